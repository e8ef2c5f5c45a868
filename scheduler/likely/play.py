"""The plan played piece by piece on many days at once, by the crew's rule of serving.

With zero spreads every row falls where the timetable has it, to the second. A wait that nothing in the network asks
for (the plan waits for a better moment) is kept, but never longer than planned nor past its planned end: people who
are late see no reason to wait. Otherwise nobody waits for the clock but for blanks, hours and what comes before.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from models.day import Day
from models.plan import Row
from models.shop import Spread
from scheduler import calendar, thermal
from scheduler.likely.crew import Crew, Marks, Taken, Turn
from scheduler.likely.draws import Draws
from scheduler.likely.hours import Times, Windows, starts_of
from scheduler.likely.network import FAR, Dressing, Network, Node

STILL = Spread(hands=0, pace=0, change=0, spoil=0)


@dataclass
class Played:
    """What came of it. `start` and `end`: rows x days, seconds from the day's start; closings and changes too.

    `finish`: when each loading's pieces were done, rework left out. `overpressed` and `peeled_late` count the
    closings and peels that ran past their windows, a number a day.
    """

    start: Times
    end: Times
    overpressed: Times
    peeled_late: Times
    closings: int
    waits: dict[int, float] = field(default_factory=dict)


class Play:
    """One run over all days. `waits` None: find the plan's own waits, on one day without spreads."""

    def __init__(
        self, day: Day, network: Network, draws: Draws, waits: dict[int, float] | None, until: int = -1
    ) -> None:
        self.day, self.network, self.draws = day, network, draws
        self.waits = waits
        self.until = until
        self.found: dict[int, float] = {}
        days = draws.days
        people = list(day.people)
        self.people = {name: n for n, name in enumerate(people)}
        self.person_hours = [calendar.person_windows(day, name) for name in people]
        factors = [draws.pace() for _ in people]
        hours = [Windows(spans) for spans in self.person_hours]
        self.crew = Crew([day.people[name].pace for name in people], factors, hours, days)
        self.running = [
            tuple(n for name, n in self.people.items() if (on := day.people[name].presses) is None or press in on)
            for press in day.presses
        ]
        self.presses = [_PressRoom(day, n, days) for n in range(len(day.presses))]
        self.start = np.zeros((len(network.rows), days))
        self.end = np.zeros((len(network.rows), days))
        self.done: dict[int, Marks] = {}
        self.opened: dict[int, Times] = {}
        self.pending: dict[int, Node] = {}  # rows that a press will open for and that nobody has begun on every day
        self.over = np.zeros(days)
        self.late = np.zeros(days)
        self.dressing = {node.row: x for x in network.dressings for node in x.nodes if node is x.load}
        self._starts: dict[tuple[object, ...], Windows] = {}
        self.openings = _followers(network)

    def run(self) -> Played:
        """Play every row."""
        for node in self.network.nodes:
            if node.what == "change":
                self._change(node)
            else:
                self._hand(node)
        closings = sum(1 for node in self.network.nodes if node.opens)
        return Played(self.start, self.end, self.over, self.late, closings, self.found)

    def _planned(self, node: Node) -> bool:
        """Whether the row lies in the past that is known."""
        return node.start < self.until

    # -- changes -------------------------------------------------------------------------------------------------

    def _change(self, node: Node) -> None:
        press = self.presses[node.press]
        row = self.network.rows[node.row]
        setting = (row.temperature or 0, row.pressure or "")
        opens = press.opening_before(node.start)
        earliest = np.maximum(self._after(node, press), opens)
        factor = self.draws.change()
        begun = press.open.fit(earliest, node.seconds)
        begun = self._waited(node, begun)
        if self._planned(node):
            factor = np.ones_like(factor)
        lasts = press.change_seconds(setting, begun, node, earliest) * factor
        self.start[node.row] = begun
        self.end[node.row] = begun + lasts
        press.set(setting, begun, begun + lasts)

    def _waited(self, node: Node, soonest: Times) -> Times:
        if self.waits is None:
            self.found[node.row] = max(0.0, node.start - float(soonest[0]))
            return np.full_like(soonest, float(node.start))
        wait = self.waits.get(node.row, 0.0)
        return np.maximum(soonest, np.minimum(node.start, soonest + wait)) if wait else soonest

    # -- hand rows -----------------------------------------------------------------------------------------------

    def _hand(self, node: Node) -> None:
        done = self.done.pop(node.row, None)
        self.pending.pop(node.row, None)
        where = np.ones(self.draws.days, dtype=bool) if done is None else ~done
        if not where.any():
            return
        turn = self._turn(node)
        taken = self.crew.offer(turn, forced=self.waits is None or self._planned(node))
        if self.waits is None:
            self._find_wait(node, turn)
        elif self.pending and not node.opens and self._open_first(turn, taken, where):
            taken = self.crew.offer(turn)
        self._settle(node, turn, taken, where)

    def _find_wait(self, node: Node, turn: Turn) -> None:
        turn.wait = 0.0
        self.found[node.row] = max(0.0, node.start - float(self.crew.offer(turn).start[0]))

    def _open_first(self, turn: Turn, taken: Taken, where: Marks) -> bool:
        """Presses that do not open by themselves come first where nobody would be there in time otherwise."""
        moved = False
        for other in list(self.pending.values()):
            if other.longest >= FAR or self._planned(other):
                continue
            assert other.before is not None
            shut = self.end[other.before.row]
            who = self.running[other.press]
            there = np.maximum(self.crew.free_after(who, turn, taken), shut + other.timer)
            first = where & (there > shut + other.longest)
            if (seen := self.done.get(other.row)) is not None:
                first &= ~seen
            if first.any():
                mine = self._turn(other)
                self._settle(other, mine, self.crew.offer(mine), first)
                self.done[other.row] = first if seen is None else seen | first
                moved = True
        return moved

    def _turn(self, node: Node) -> Turn:
        row = self.network.rows[node.row]
        named = self.people[row.person or ""]
        others = range(len(self.people)) if node.off_press else self.running[node.press]
        who = (named, *(p for p in others if p != named))
        dressing = self.dressing.get(node.row)
        lasts = self._lasts(node, len(row.pieces))
        cold = node.off_press and node.latest >= FAR
        return Turn(
            earliest=self._earliest(node, dressing, lasts),
            who=who,
            seconds=float(node.seconds),
            lasts=lasts,
            planned=float(node.start),
            wait=0.0 if self.waits is None else self.waits.get(node.row, 0.0),
            present=cold or dressing is not None,
            window=None if dressing is None else self._window(dressing),
        )

    def _lasts(self, node: Node, pieces: int) -> Times:
        factor = self.draws.hand(pieces)
        return np.full_like(factor, node.seconds) if self._planned(node) else node.seconds * factor

    def _earliest(self, node: Node, dressing: Dressing | None, lasts: Times) -> Times:
        press = self.presses[node.press]
        if dressing is not None:
            ready = _ready(self.day, dressing)
            return np.maximum(press.warmed(dressing.setting, self._after(node, press)), ready)
        assert node.before is not None
        earliest = self.end[node.before.row]
        if node.opens:
            earliest = earliest + node.timer
        if node.after:
            opened = earliest if node.opens else self.opened[node.loading]
            earliest = np.maximum(earliest, opened + node.after)
        if node.shuts is not None and node.shuts.before is not None:
            earliest = np.maximum(earliest, self.end[node.shuts.before.row] + node.shuts.timer - lasts)
        for other in node.starts:
            earliest = np.maximum(earliest, self.start[other.row])
        return earliest

    def _after(self, node: Node, press: _PressRoom) -> Times:
        """When everything it waits for is over."""
        earliest = press.free
        for other in node.waits:
            earliest = np.maximum(earliest, self.end[other.row])
        for other in node.starts:
            earliest = np.maximum(earliest, self.start[other.row])
        return earliest

    def _window(self, dressing: Dressing) -> Windows:
        """Starts from which the whole loading, as planned, lies inside the hours of its press and its people."""
        rows = self.network.rows
        shape = tuple((rows[n.row].person, n.start - dressing.load.start, n.seconds) for n in dressing.nodes)
        key = (dressing.press, dressing.span, shape)
        if key not in self._starts:
            parts = [(self.presses[dressing.press].spans, 0, dressing.span)]
            parts += [
                (self.person_hours[self.people[who or ""]], offset, seconds)
                for node, (who, offset, seconds) in zip(dressing.nodes, shape, strict=True)
                if not (node.off_press and node.latest >= FAR)
            ]
            self._starts[key] = Windows(tuple((a, b - 1) for a, b in starts_of(parts)))
        return self._starts[key]

    def _settle(self, node: Node, turn: Turn, taken: Taken, where: Marks) -> None:
        """Write down that the row is done on the days marked, and what follows from it."""
        self.crew.take(turn, taken, where)
        self.start[node.row] = np.where(where, taken.start, self.start[node.row])
        self.end[node.row] = np.where(where, taken.end, self.end[node.row])
        if node.shut is not None and node.before is not None:
            self._opens(node, taken, where)
        if node.what == "peel" and node.latest < FAR:
            self.late += where & (taken.start > self.opened[node.loading] + node.latest + 0.5)
        follower = self.openings.get(node.row)
        if follower is not None:
            self.pending[follower.row] = follower

    def _opens(self, node: Node, taken: Taken, where: Marks) -> None:
        assert node.shut is not None and node.before is not None
        shut = self.end[node.before.row]
        auto = self.day.shop.press[node.press].auto_open
        opened = shut + node.timer if auto else taken.start
        self.start[node.shut] = np.where(where, shut, self.start[node.shut])
        self.end[node.shut] = np.where(where, opened, self.end[node.shut])
        was = self.opened.get(node.loading)
        self.opened[node.loading] = opened if was is None else np.where(where, opened, was)
        if node.longest < FAR:
            self.over += where & (opened > shut + node.longest + 0.5)


class _PressRoom:
    """A press on every day: from when it is free, at which setting, and on which of the shop's days it was warmed."""

    def __init__(self, day: Day, number: int, days: int) -> None:
        press = day.shop.press[number]
        self.day, self.press = day, press
        self.room = day.shop.room_temperature
        self.spans = calendar.press_windows(day, press.id)
        self.working = Windows(self.spans)
        self.open = Windows(calendar.without(calendar.open_hours(day), calendar.away_spans(day, press.id)))
        self.days = Windows(calendar.open_hours(day))
        self.free = np.zeros(days)
        self.warm_on = np.full(days, -1, dtype=np.intp)
        self.setting: tuple[int, str] | None = None

    def opening_before(self, at: int) -> float:
        """When the shop opened on the day of `at`."""
        number = int(self.days.number(np.array([float(at)]))[0])
        return float(self.days.starts[number]) if number >= 0 else 0.0

    def change_seconds(self, setting: tuple[int, str], begun: Times, node: Node, ready: Times) -> Times:
        """How long a planned change takes: longer where it slipped to another day and the press is cold."""
        planned = np.full(begun.shape, float(node.seconds))
        on = self.days.number(begun)
        due = int(self.days.number(np.array([float(node.start)]))[0])
        cold = (on > due) & (self.warm_on < on)
        if cold.any():
            planned = np.where(cold, np.maximum(planned, self._warm_up(setting[0], begun)), planned)
        if self.setting is not None:
            warm = (self.warm_on == on) & (on == due) & (self._first_of(node, due))
            if warm.any():
                planned = np.where(warm, thermal.setting_seconds(self.press, self.setting, setting, self.room), planned)
        return planned

    def set(self, setting: tuple[int, str], begun: Times, ready: Times) -> None:
        """The press has taken on a setting."""
        self.setting = setting
        self.warm_on = np.maximum(self.warm_on, self.days.number(begun))
        self.free = np.maximum(self.free, ready)

    def warmed(self, setting: tuple[int, str], at: Times) -> Times:
        """When a loading that could come at `at` finds the press warm: one carried to another day waits for it."""
        at = self.working.fit(at, 1)
        on = self.days.number(at)
        cold = on > self.warm_on
        if not cold.any():
            return at
        opens = self.days.starts[np.maximum(on, 0)]
        ready = np.maximum(at, opens + self._warm_up(setting[0], opens))
        self.warm_on = np.where(cold, on, self.warm_on)
        return np.where(cold, ready, at)

    def _warm_up(self, setpoint: int, at: Times) -> float:
        """Seconds from what a night leaves of the setting."""
        if len(self.days.starts) < 2:
            return 0.0
        night = float(np.min(self.days.starts[1:] - self.days.ends[:-1]))
        left = thermal.resting(self.press, float(setpoint), night, self.room)
        return float(thermal.change_seconds(self.press, left, setpoint, self.room))

    def _first_of(self, node: Node, due: int) -> bool:
        """Whether the change is its day's warm-up."""
        return due > 0 and bool((self.warm_on < due).any())


def _followers(network: Network) -> dict[int, Node]:
    """For each row that closes a press which does not open by itself: the row it opens for."""
    return {n.before.row: n for n in network.nodes if n.opens and n.before is not None and n.longest < FAR}


def _ready(day: Day, dressing: Dressing) -> float:
    moments = [line.ready for line in day.lines if line.key == dressing.key and line.ready is not None]
    return float(max((day.seconds(m) for m in moments), default=0))


def play(day: Day, network: Network, spread: Spread, days: int, seed: int, until: int = -1) -> Played:
    """So many simulated days. Rows begun before `until` (seconds) are as the timetable has them."""
    waits = Play(day, network, Draws(STILL, 1, 0), None).run().waits
    return Play(day, network, Draws(spread, days, seed), waits, until).run()
