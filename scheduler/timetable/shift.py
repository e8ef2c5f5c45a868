"""A timetable drawn forward: every row as early as it can be while everybody and every press keeps their order.

Each rule between two rows says that one starts no sooner than so long before or after another, and the
calendars push a row to the next stretch of time that takes it. All of that is monotone, so that there is one
earliest timetable, and rows that only ever wait for each other find it (the least fixed point; for the lags
alone it is the longest path in a temporal network: Dechter, Meiri and Pearl, 1991).
"""

from __future__ import annotations

import heapq
import itertools
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from scheduler.calendar import Spans
from scheduler.instance import Instance, PressSide
from scheduler.timetable.acts import FAR
from scheduler.timetable.measure import measure
from scheduler.timetable.record import Change, Loading, Timetable


def drawn_forward(instance: Instance, table: Timetable, warm: Mapping[Change, int] | None = None) -> Timetable | None:
    """The earliest timetable with the same people and orders; None where there is none, or the rack would not hold it.

    Only the orders are taken from the times of `table`, which need not fit any calendar. Warm-ups stand, those in
    `warm` at the second given there.
    """
    found = _Network(instance, table, warm or {}).run()
    return measure(instance, found) if found is not None and _rack_holds(instance, found) else None


def _rack_holds(instance: Instance, table: Timetable) -> bool:
    """Whether no more pieces lie cooling at once than the rack takes; it is no rule between two rows."""
    if instance.rack is None:
        return True
    events = [(until, -pieces) for until, pieces in instance.standing.rack] if instance.standing else []
    lying = -sum(pieces for _, pieces in events)
    for loading in table.loadings:
        if loading.peel is not None and loading.peel[0] > loading.off:
            events += [(loading.off, len(loading.pieces)), (loading.peel[0], -len(loading.pieces))]
    for _, pieces in sorted(events):
        lying += pieces
        if lying > instance.rack:
            return False
    return True


def free_from(instance: Instance, loading: Loading) -> int:
    """Before when a loading cannot begin: its blanks, and how the press stood."""
    task, stands = loading.script.task, instance.presses[loading.press].stands
    mine = set(loading.pieces)
    blanks = max((at for at, n in instance.lots[task.line].pieces if n in mine), default=0) if not task.stage else 0
    return max(0, instance.begins, blanks, stands.free, stands.shut_until)


def platens(side: PressSide, loadings: Iterable[Loading]) -> list[list[Loading]]:
    """The loadings of a press by the platen they lie on: each takes the one that has been free longest."""
    lanes: list[list[Loading]] = [[] for _ in range(side.stations)]
    free = [*sorted(side.stands.lying), *[0] * side.stations][: side.stations]
    for loading in sorted(loadings, key=lambda x: (x.start, x.off)):
        lane = min(range(side.stations), key=lambda n: free[n])
        lanes[lane].append(loading)
        free[lane] = loading.off
    return lanes


_OFTEN = 100  # pushes of one row: after so many, rows are taken to wait for each other in a ring


class _Network:
    """Rows are nodes, in the order of their present starts."""

    def __init__(self, instance: Instance, table: Timetable, warm: Mapping[Change, int]) -> None:
        self.instance, self.table = instance, table
        self.was: list[int] = []
        self.size: list[int] = []
        self.floor: list[int] = []
        self.spans: list[Spans] = []
        self.after: list[list[tuple[int, int]]] = []  # by node: (node, seconds from start to start at the least)
        self.lies: dict[int, tuple[int, int, Spans]] = {}  # a loading's rows: first and last node, press windows
        self.first: dict[int, int] = {}
        self.peel: dict[int, int] = {}
        self.changes: list[int] = []
        for loading in table.loadings:
            self._loading(loading)
        for change in table.changes:
            spans = () if change.warm_up else instance.presses[change.press].open
            floor = warm.get(change, change.start) if change.warm_up else 0
            self.changes.append(self._node(change.start, change.end, floor, spans))
        self._people()
        for side in instance.presses:
            self._press(side)
        self._pieces()

    def _node(self, start: int, end: int, floor: int, spans: Spans) -> int:
        self.was.append(start)
        self.size.append(end - start)
        self.floor.append(floor)
        self.spans.append(spans)
        self.after.append([])
        return len(self.was) - 1

    def _follows(self, node: int, before: int, seconds: int = 0) -> None:
        """A row starts so many seconds after another's end, or later."""
        self.after[before].append((node, self.size[before] + seconds))

    def _no_later(self, node: int, before: int, seconds: int) -> None:
        """A row starts so many seconds after another's end, or sooner."""
        if seconds < FAR:
            self.after[node].append((before, -self.size[before] - seconds))

    def _loading(self, loading: Loading) -> None:
        script, people = loading.script, self.instance.people
        floor = free_from(self.instance, loading)
        nodes = [self._node(start, end, floor, people[who].windows) for start, end, who in loading.done]
        for number in range(1, len(nodes)):
            self._follows(nodes[number], nodes[number - 1], script.acts[number].lo)
            self._no_later(nodes[number], nodes[number - 1], script.acts[number].hi)
        self.first[loading.number] = nodes[0]
        spans = self.instance.presses[loading.press].windows
        for node in nodes:
            self.lies[node] = (nodes[0], nodes[-1], spans)
        if loading.peel is not None and script.peel is not None:
            start, end, who = loading.peel
            node = self.peel[loading.number] = self._node(start, end, floor, people[who].windows)
            self._follows(node, nodes[-1])
            if script.auto_open:
                opened, lag = nodes[-2], script.acts[-1].closed
            else:
                opened, lag = nodes[-1], -self.size[nodes[-1]]
            self._follows(node, opened, lag + script.peel[0])
            self._no_later(node, opened, min(FAR, lag + script.peel[1]))

    def _last(self, loading: Loading) -> int:
        return self.first[loading.number] + len(loading.done) - 1

    def _people(self) -> None:
        rows: dict[int, list[int]] = defaultdict(list)
        for loading in self.table.loadings:
            for number, (_, _, who) in enumerate(loading.done):
                rows[who].append(self.first[loading.number] + number)
            if loading.number in self.peel and loading.peel is not None:
                rows[loading.peel[2]].append(self.peel[loading.number])
        for mine in rows.values():
            self._in_turn(sorted(mine, key=lambda n: (self.was[n], self.was[n] + self.size[n])))

    def _in_turn(self, nodes: Sequence[int]) -> None:
        for before, node in itertools.pairwise(nodes):
            self._follows(node, before)

    def _press(self, side: PressSide) -> None:
        mine = [x for x in self.table.loadings if x.press == side.index]
        changes = [n for n, c in zip(self.changes, self.table.changes, strict=True) if c.press == side.index]
        lying = [*sorted(side.stands.lying), *[0] * side.stations][: side.stations]
        for lane, off in zip(platens(side, mine), lying, strict=True):
            rows = [(self.was[n], 0, n, n) for n in changes]  # one of no length comes before what it is for
            rows += [(self.was[self.first[x.number]], 1, self.first[x.number], self._last(x)) for x in lane]
            rows.sort()
            for before, row in itertools.pairwise(rows):
                self._follows(row[2], before[3])
            if rows:
                self.floor[rows[0][2]] = max(self.floor[rows[0][2]], off)
        if side.stations > 1:
            self._one_heat(mine)

    def _one_heat(self, mine: Sequence[Loading]) -> None:
        """With several platens under one heat, one closing at a time, in the order they were."""
        closings = []
        for loading in mine:
            for number, act in enumerate(loading.script.acts):
                if act.closed:
                    node = self.first[loading.number] + number
                    closings.append((self.was[node - 1] + self.size[node - 1], node, act.closed, loading))
        closings.sort(key=lambda c: c[:2])
        for (_, node, closed, loading), (_, then, _, _) in itertools.pairwise(closings):
            before, lag = (node - 1, self.size[node - 1] + closed) if loading.script.auto_open else (node, 0)
            self.after[before].append((then - 1, lag - self.size[then - 1]))

    def _pieces(self) -> None:
        """A piece's next loading waits for the one before."""
        last: dict[tuple[int, int], Loading] = {}
        for loading in sorted(self.table.loadings, key=lambda x: x.start):
            line = loading.script.task.line
            earlier = {last[line, n].number: last[line, n] for n in loading.pieces if (line, n) in last}
            for number, other in earlier.items():
                self._follows(self.first[loading.number], self.peel.get(number, self._last(other)))
            last.update(((line, n), loading) for n in loading.pieces)

    def run(self) -> Timetable | None:
        """The earliest timetable; None where rows would have to wait for themselves, or find no time."""
        starts = self._earliest()
        if starts is None:
            return None
        loadings = [self._read(starts, loading) for loading in self.table.loadings]
        changes = [
            replace(change, start=starts[node], end=starts[node] + self.size[node])
            for node, change in zip(self.changes, self.table.changes, strict=True)
        ]
        return replace(self.table, loadings=loadings, changes=sorted(changes, key=_by_start))

    def _earliest(self) -> list[int] | None:
        """Every row waits for what it has to wait for, and no longer."""
        end = self.instance.horizon
        starts = [self._pushed(node, floor) for node, floor in enumerate(self.floor)]
        rank = sorted(range(len(starts)), key=lambda n: (self.was[n], n))
        place = [0] * len(rank)
        for number, node in enumerate(rank):
            place[node] = number
        heap = list(range(len(rank)))
        queued, again = [True] * len(rank), [0] * len(rank)
        while heap:
            number = heapq.heappop(heap)
            queued[number] = False
            node = rank[number]
            at = starts[node]
            again[node] += 1
            if again[node] > _OFTEN:
                return None
            for then, seconds in [*self.after[node], *self._caught(node, starts)]:
                if at + seconds > starts[then]:
                    starts[then] = self._pushed(then, at + seconds)
                    if starts[then] > end:
                        return None
                    if not queued[place[then]]:
                        queued[place[then]] = True
                        heapq.heappush(heap, place[then])
        return starts

    def _pushed(self, node: int, at: int) -> int:
        """The earliest start from a moment on at which the row fits its calendar."""
        for opens, closes in self.spans[node]:
            if closes - self.size[node] >= at:
                return max(at, opens)
        return FAR if self.spans[node] else at

    def _caught(self, node: int, starts: Sequence[int]) -> Iterable[tuple[int, int]]:
        """A loading that would not be off before its press closes begins when it opens again."""
        if node not in self.lies:
            return
        first, last, spans = self.lies[node]
        off = starts[last] + self.size[last]
        for opens, closes in spans:
            if closes >= off or opens > starts[first]:
                if opens > starts[first]:
                    yield first, opens - starts[node]
                return

    def _read(self, starts: Sequence[int], loading: Loading) -> Loading:
        first, acts = self.first[loading.number], loading.script.acts
        done = [
            (starts[first + n], starts[first + n] + self.size[first + n], who)
            for n, (_, _, who) in enumerate(loading.done)
        ]
        opens = [
            done[n - 1][1] + act.closed if loading.script.auto_open else done[n][0]
            for n, act in enumerate(acts)
            if act.closed
        ]
        peel = None
        if loading.peel is not None:
            node = self.peel[loading.number]
            peel = (starts[node], starts[node] + self.size[node], loading.peel[2])
        return replace(loading, done=done, opens=opens, opened=opens[-1] if opens else done[-1][0], peel=peel)


def _by_start(change: Change) -> tuple[int, int]:
    return change.start, change.press
