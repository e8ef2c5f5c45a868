"""The plan played piece by piece on many days at once, by the crew's rule of serving.

With zero spreads every row falls where the timetable has it, to the second. A wait that nothing in the network asks
for (the plan waits for a better moment) is kept, but never longer than planned nor past its planned end: people who
are late see no reason to wait. Otherwise nobody waits for the clock but for blanks, hours and what comes before.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from models.day import Day
from models.shop import Spread
from scheduler.likely.crew import Crew, Marks, Taken, Turn
from scheduler.likely.draws import Draws
from scheduler.likely.hours import Times
from scheduler.likely.network import FAR, Dressing, Network, Node
from scheduler.likely.rework import Rework
from scheduler.likely.rooms import Hours, Known, PressRoom
from scheduler.likely.stages import Suits

STILL = Spread(hands=0, pace=0, change=0, spoil=0)
FRESH = Known()


@dataclass
class Played:
    """What came of it. `start` and `end`: rows x days, seconds from the day's start; closings and changes too.

    `finish`: when each order was done, with what had to be made again. `overpressed` and `peeled_late` count the
    closings and peels that ran past their windows, `spoiled` the pieces made again, a number a day.
    """

    start: Times
    end: Times
    finish: dict[str, Times]
    overpressed: Times
    peeled_late: Times
    spoiled: Times
    closings: int


class Play:
    """One run over all days. The first of them is the plan's own: a wait there that nothing in the network asks for is
    a wait of the plan."""

    def __init__(self, day: Day, network: Network, draws: Draws, known: Known) -> None:
        self.day, self.network, self.draws, self.known = day, network, draws, known
        self.hours = hours = Hours(day, network.rows, known)
        days = draws.days
        self.people = {name: n for n, name in enumerate(day.people)}
        paces = [person.pace for person in day.people.values()]
        self.crew = Crew(paces, [draws.pace() for _ in paces], hours.hands, days)
        self.running = [
            tuple(n for name, n in self.people.items() if (on := day.people[name].presses) is None or press in on)
            for press in day.presses
        ]
        self.who = {
            (press, named): (named, *(p for p in others if p != named))
            for named in self.people.values()
            for press, others in [*enumerate(self.running), (-1, range(len(self.people)))]
        }
        self.presses = [PressRoom(day, n, hours, days) for n in range(len(day.presses))]
        self.start = np.zeros((len(network.rows), days))
        self.end = np.zeros((len(network.rows), days))
        for number in network.cut:
            row = network.rows[number]
            self.start[number], self.end[number] = day.seconds(row.start), day.seconds(row.end)
        self.done: dict[int, Marks] = {}
        self.opened: dict[int, Times] = {}
        self.pending: dict[int, Node] = {}  # rows that a press will open for and that nobody has begun on every day
        self.over, self.late = np.zeros(days), np.zeros(days)
        self.dressing = {x.load.row: x for x in network.dressings}
        self.openings = _followers(network)
        self.ready = {line.key: float(day.seconds(line.ready)) for line in day.lines if line.ready is not None}
        self.rework = Rework(self, network.dressings, Suits(day, network.ways))

    def run(self) -> Played:
        """Play every row."""
        for node in self.network.nodes:
            if node.what == "change":
                self._change(node)
            else:
                self._hand(node)
                self.rework.follow(node)
        self.rework.rest()
        closings = sum(1 for node in self.network.nodes if node.opens and not self._planned(node))
        finish = {order: done[1:] for order, done in self._finishes().items()}
        counts = (self.over[1:], self.late[1:], self.rework.pieces[1:])
        return Played(self.start[:, 1:], self.end[:, 1:], finish, *counts, closings)

    def _finishes(self) -> dict[str, Times]:
        """When each order is done on each day, what was spoiled too."""
        done: dict[str, Times] = {}
        for dressing in self.network.dressings:
            end, order = self.end[dressing.last.row], dressing.key[0]
            done[order] = np.maximum(done[order], end) if order in done else end
        for (order, _), end in self.rework.finish.items():
            done[order] = np.maximum(done[order], end)
        return done

    def _planned(self, node: Node) -> bool:
        """Whether the row lies in the past that is known."""
        return node.start < self.known.until

    # -- changes -------------------------------------------------------------------------------------------------

    def _change(self, node: Node) -> None:
        press = self.presses[node.press]
        row = self.network.rows[node.row]
        setting = (row.temperature or 0, row.pressure or "")
        opens = press.opening_before(node.start)
        factor = self.draws.change()
        if self._planned(node):
            begun, lasts = np.full(self.draws.days, float(node.start)), np.full(self.draws.days, float(node.seconds))
        else:
            earliest = np.maximum(self._after(node, press), opens)
            begun = self._waited(node, press.open.fit(earliest, node.seconds))
            lasts = press.change_seconds(setting, begun, node) * factor
            lasts[0] = node.seconds
        self.start[node.row] = begun
        self.end[node.row] = begun + lasts
        press.set(setting, begun, begun + lasts)

    def _waited(self, node: Node, soonest: Times) -> Times:
        wait = max(0.0, node.start - float(soonest[0]))
        begun: Times = np.maximum(soonest, np.minimum(node.start, soonest + wait))
        begun[0] = node.start
        return begun

    # -- hand rows -----------------------------------------------------------------------------------------------

    def _hand(self, node: Node) -> None:
        done = self.done.pop(node.row, None)
        self.pending.pop(node.row, None)
        where = None if done is None else ~done
        turn = self._turn(node)
        if self._planned(node):
            taken = self.crew.as_planned(turn)
        else:
            taken = self.crew.offer(turn)
            if self.pending and not node.opens and self._open_first(turn, taken, where):
                taken = self.crew.offer(turn)
            taken = self._when_warm(node, turn, taken, where)
        self._settle(node, turn, taken, where)

    def _when_warm(self, node: Node, turn: Turn, taken: Taken, where: Marks | None) -> Taken:
        """A loading carried over to another day waits for its press to be warm again."""
        dressing, press = self.dressing.get(node.row), self.presses[node.press]
        if dressing is None or not (cold := press.cold(taken.start, where)).any():
            return taken
        turn.earliest = np.maximum(turn.earliest, press.warmed(dressing.setting, taken.start, cold))
        return self.crew.offer(turn)

    def _open_first(self, turn: Turn, taken: Taken, where: Marks | None) -> bool:
        """Presses that do not open by themselves come first where nobody would be there in time otherwise."""
        moved = False
        for other in list(self.pending.values()):
            if other.longest >= FAR or self._planned(other):
                continue
            assert other.before is not None
            shut = self.end[other.before.row]
            who = self.running[other.press]
            there = np.maximum(self.crew.free_after(who, turn, taken), shut + other.timer)
            first = there > shut + other.longest
            first[0] = False
            if where is not None:
                first &= where
            if (seen := self.done.get(other.row)) is not None:
                first &= ~seen
            if first.any():
                mine = self._turn(other, wait=0.0)
                self._settle(other, mine, self.crew.offer(mine), first)
                self.done[other.row] = first if seen is None else seen | first
                moved = True
        return moved

    def _turn(self, node: Node, wait: float | None = None) -> Turn:
        row = self.network.rows[node.row]
        named = self.people[row.person or ""]
        dressing = self.dressing.get(node.row)
        lasts = self._lasts(node, len(row.pieces))
        cold = node.off_press and node.latest >= FAR
        return Turn(
            earliest=self._earliest(node, dressing, lasts),
            who=self.who[-1 if node.off_press else node.press, named],
            seconds=float(node.seconds),
            lasts=lasts,
            planned=float(node.start),
            wait=wait,
            present=cold or dressing is not None,
            window=None if dressing is None else self.hours.loads(dressing),
        )

    def _lasts(self, node: Node, pieces: int) -> Times:
        factor = self.draws.hand(pieces)
        return np.full_like(factor, node.seconds) if self._planned(node) else node.seconds * factor

    def _earliest(self, node: Node, dressing: Dressing | None, lasts: Times) -> Times:
        press = self.presses[node.press]
        if dressing is not None:
            ready: Times = np.maximum(self._after(node, press), self.ready.get(dressing.key, 0.0))
            held = self.rework.holds.get(node.row)
            return ready if held is None else np.maximum(ready, held)
        assert node.before is not None
        earliest: Times = self.end[node.before.row]
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

    def _after(self, node: Node, press: PressRoom) -> Times:
        """When everything it waits for is over."""
        earliest = press.free if self._planned(node) else np.maximum(press.free, self.known.until)
        for other in node.waits:
            earliest = np.maximum(earliest, self.end[other.row])
        for other in node.starts:
            earliest = np.maximum(earliest, self.start[other.row])
        return earliest

    def _settle(self, node: Node, turn: Turn, taken: Taken, where: Marks | None) -> None:
        """Write down that the row is done on the days marked (None: all), and what follows from it."""
        self.crew.take(turn, taken, where)
        _put(self.start[node.row], taken.start, where)
        _put(self.end[node.row], taken.end, where)
        if node.shut is not None and node.before is not None:
            self._opens(node, taken, where)
        if node.what == "peel" and node.latest < FAR:
            self.late += _marked(taken.start > self.opened[node.loading] + node.latest + 0.5, where)
        follower = self.openings.get(node.row)
        if follower is not None:
            self.pending[follower.row] = follower

    def _opens(self, node: Node, taken: Taken, where: Marks | None) -> None:
        assert node.shut is not None and node.before is not None
        shut = self.end[node.before.row]
        auto = self.day.shop.press[node.press].auto_open or node.off_press
        opened = shut + node.timer if auto else taken.start
        _put(self.start[node.shut], shut, where)
        _put(self.end[node.shut], opened, where)
        was = self.opened.get(node.loading)
        self.opened[node.loading] = opened if was is None or where is None else np.where(where, opened, was)
        if node.longest < FAR:
            self.over += _marked(opened > shut + node.longest + 0.5, where)


def _put(kept: Times, new: Times, where: Marks | None) -> None:
    if where is None:
        kept[:] = new
    else:
        np.copyto(kept, new, where=where)


def _marked(marks: Marks, where: Marks | None) -> Marks:
    return marks if where is None else marks & where


def _followers(network: Network) -> dict[int, Node]:
    """For each row that closes a press which does not open by itself: the row it opens for."""
    return {n.before.row: n for n in network.nodes if n.opens and n.before is not None and n.longest < FAR}


def play(day: Day, network: Network, spread: Spread, days: int, seed: int, known: Known = FRESH) -> Played:
    """So many simulated days, from what is known of it already."""
    return Play(day, network, Draws(spread, days, seed), known).run()
