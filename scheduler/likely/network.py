"""The timetable as a network: what each row waits for, in the order in which rows can be played.

A closing is part of the hand row after it: it begins when the hand row before it ends, and opens for it.
"""

from __future__ import annotations

import heapq
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import pairwise

from models.day import Day
from models.operation import Operation, Route
from models.plan import Row, What
from scheduler.breakdown import break_down

FAR = 1 << 40


class Unplayable(Exception):
    """Rows that wait for each other in a ring: no order to play them in."""


_Operations = dict[tuple[str, str, str, int], Operation]
_RANK: dict[What, int] = {"change": 0, "load": 1, "prepress": 2, "align": 3, "dwell": 4, "peel": 5, "unload": 6}


@dataclass(slots=True, eq=False)
class Node:
    """A hand row or a change of the timetable, with what it waits for. Times in seconds from the day's start.

    `shut`: the row number of the closing before it, that runs for [`timer`, `longest`] and opens for it.
    `after`: shortest seconds from the opening to its start (a peel's), `latest` the longest. `before`: the hand row
    before it in its loading. `waits`: rows that must be over. `starts`: rows that must have begun. `shuts`: the
    press's closing before the one that follows this row, on presses with several platens.
    """

    row: int
    what: What
    start: int
    seconds: int
    press: int
    loading: int
    off_press: bool = False
    before: Node | None = None
    shut: int | None = None
    timer: int = 0
    longest: int = FAR
    after: int = 0
    latest: int = FAR
    waits: list[Node] = field(default_factory=list)
    starts: list[Node] = field(default_factory=list)
    shuts: Node | None = None

    @property
    def opens(self) -> bool:
        """Whether a press opens for this row."""
        return self.shut is not None


@dataclass(frozen=True, eq=False)
class Dressing:
    """A loading of the timetable: its hand rows in order, the peel off the press at the end where there is one."""

    number: int
    press: int
    nodes: tuple[Node, ...]
    pieces: tuple[str, ...]
    key: tuple[str, str]
    steps: tuple[tuple[str, int], ...]
    setting: tuple[int, str]

    @property
    def load(self) -> Node:
        """The row that dresses the platen."""
        return self.nodes[0]

    @cached_property
    def off(self) -> Node:
        """The row after which the platen is free."""
        return next(node for node in reversed(self.nodes) if not node.off_press)

    @property
    def last(self) -> Node:
        """The row after which its pieces are free for what comes next."""
        return self.nodes[-1]

    @property
    def whole(self) -> bool:
        """Whether it was pressed and unloaded; a press that went down cuts loadings short."""
        return self.off.what == "unload"

    @property
    def span(self) -> int:
        """Seconds from load to the end of the unloading, as planned."""
        return self.off.start + self.off.seconds - self.load.start


@dataclass(frozen=True)
class Network:
    """All nodes in an order in which each comes after what it waits for. `cut`: closings of which nothing came, as
    their press went down."""

    rows: Sequence[Row]
    nodes: tuple[Node, ...]
    dressings: tuple[Dressing, ...]
    ways: Mapping[tuple[str, str], Sequence[Route]]
    cut: tuple[int, ...]


def network_of(day: Day, rows: Sequence[Row]) -> Network:
    """The network of a timetable that keeps the rules (contract, section 3). Raises Unplayable."""
    ways = break_down(day)
    dressings = tuple(_dressings(day, rows, _operations(day, ways)))
    changes = list(_changes(day, rows))
    _pieces_wait(dressings)
    for number in range(len(day.shop.press)):
        mine = [x for x in dressings if x.press == number]
        _press_waits(day.shop.press[number].stations, mine, [c for c in changes if c.press == number])
    _rack_waits(day, dressings)
    nodes = _in_order([*changes, *(node for x in dressings for node in x.nodes)])
    played = {number for node in nodes for number in (node.row, node.shut)}
    return Network(rows, nodes, dressings, ways, tuple(n for n in range(len(rows)) if n not in played))


def _changes(day: Day, rows: Sequence[Row]) -> Iterator[Node]:
    presses = list(day.presses)
    for number, row in enumerate(rows):
        if row.what == "change" and row.press is not None:
            yield Node(number, "change", day.seconds(row.start), row.seconds, presses.index(row.press), -1)


def _dressings(day: Day, rows: Sequence[Row], operations: _Operations) -> Iterator[Dressing]:
    presses = list(day.presses)
    grouped: dict[int, list[int]] = defaultdict(list)
    for number, row in enumerate(rows):
        if row.loading is not None and row.what != "change":
            grouped[row.loading].append(number)
    for loading, numbers in grouped.items():
        numbers.sort(key=lambda n: (rows[n].press is None, rows[n].start, rows[n].end, _RANK[rows[n].what]))
        first = rows[numbers[0]]
        assert first.press is not None and first.order is not None and first.line is not None
        nodes = tuple(_hand_nodes(day, rows, numbers, presses.index(first.press), operations))
        steps = tuple((r.placement or "", r.operation or 0) for r in (rows[n] for n in numbers) if r.what == "dwell")
        setting = (first.temperature or 0, first.pressure or "")
        key = (first.order, first.line)
        yield Dressing(loading, presses.index(first.press), nodes, first.pieces, key, steps, setting)


def _operations(day: Day, ways: Mapping[tuple[str, str], Sequence[Route]]) -> _Operations:
    """Each line's operations by placement and number; the same in every route but for their temperatures."""
    found: _Operations = {}
    for line in day.lines:
        for route in ways[line.garment, line.design]:
            for op in route.operations:
                found.setdefault((line.order, line.line, op.placement, op.number), op)
    return found


def _hand_nodes(
    day: Day, rows: Sequence[Row], numbers: Sequence[int], press: int, operations: _Operations
) -> Iterator[Node]:
    before: Node | None = None
    shut: int | None = None
    last: Operation | None = None
    auto = day.shop.press[press].auto_open
    for number in numbers:
        row = rows[number]
        if row.what in ("prepress", "dwell"):
            shut = number
            continue
        node = Node(number, row.what, day.seconds(row.start), row.seconds, press, row.loading or 0, row.press is None)
        node.before = before
        if shut is not None:
            closing = rows[shut]
            last = operations.get((row.order or "", row.line or "", closing.placement or "", closing.operation or 0))
            node.shut = shut
            window = last and (last.prepress if closing.what == "prepress" else last.dwell)
            known = node.off_press or not window  # its press went down: it opened when it did
            node.timer = closing.seconds if known or not window else min(window.lo, closing.seconds)
            node.longest = FAR if auto or known or not window or window.hi is None else window.hi
        if row.what == "peel" and last is not None:
            peel = last.peel_window(row.temperature or 0, day.shop.room_temperature)
            if peel is not None and (auto or row.press is None):
                node.after = peel.lo
                node.latest = FAR if peel.hi is None else peel.hi
        shut, before = None, node
        yield node


def _pieces_wait(dressings: Sequence[Dressing]) -> None:
    """A loading waits for the last loading of each of its pieces, its peel too. A new blank doesn't wait for what the
    spoiled one is still in."""
    last: dict[str, Node] = {}
    for dressing in sorted(dressings, key=lambda x: x.load.start):
        before = dict.fromkeys(last[p] for p in dressing.pieces if p in last)
        dressing.load.waits.extend(n for n in before if n.start + n.seconds <= dressing.load.start)
        last.update(dict.fromkeys(dressing.pieces, dressing.last))


def _press_waits(stations: int, mine: list[Dressing], changes: list[Node]) -> None:
    """Loadings in their planned order; a change comes when nothing is on the press."""
    mine.sort(key=lambda x: (x.load.start, x.off.start + x.off.seconds, x.number))
    offs = sorted((x.off for x in mine), key=lambda n: (n.start + n.seconds, n.start, n.loading))
    for number, dressing in enumerate(mine):
        if number >= stations:
            dressing.load.waits.append(offs[number - stations])
        if stations > 1 and number:
            dressing.load.starts.append(mine[number - 1].load)  # dressed in turn
    changes.sort(key=lambda n: (n.start, n.start + n.seconds))
    for number, change in enumerate(changes):
        ends = change.start + change.seconds
        change.waits.extend(changes[:number][-1:])
        change.waits.extend([off for off in offs if off.start + off.seconds <= change.start][-stations:])
        later = [x.load for x in mine if x.load.start >= ends]
        for load in later[:stations]:
            load.waits.append(change)
    if stations > 1:
        _share_heat(mine)


def _share_heat(mine: Sequence[Dressing]) -> None:
    """Platens under one heat: a closing waits for the timer of the one before it."""
    closings = [node for x in mine for node in x.nodes if node.opens and node.before is not None]
    closings.sort(key=lambda n: _closes(n))
    for earlier, later in pairwise(closings):
        assert later.before is not None
        later.before.shuts = earlier


def _closes(node: Node) -> int:
    assert node.before is not None
    return node.before.start + node.before.seconds


def _rack_waits(day: Day, dressings: Sequence[Dressing]) -> None:
    """Where the rack is full, an unloading waits until a peel has begun: pieces in the planned order of both."""
    rack = day.shop.rules.rack
    if rack is None:
        return
    cooling = [x for x in dressings if x.last.off_press]
    on = sorted(cooling, key=lambda x: x.off.start + x.off.seconds)
    off = [x.last for x in sorted(cooling, key=lambda x: x.last.start) for _ in x.pieces]
    laid = 0
    for dressing in on:
        laid += len(dressing.pieces)
        if laid > rack:
            peel = off[laid - rack - 1]
            if peel.start <= dressing.off.start:
                dressing.off.starts.append(peel)


def _in_order(nodes: Sequence[Node]) -> tuple[Node, ...]:
    """By planned start, each after what it waits for (Kahn 1962, topological sorting)."""
    number = {id(node): n for n, node in enumerate(nodes)}
    left = [0] * len(nodes)
    later: dict[int, list[int]] = defaultdict(list)
    for n, node in enumerate(nodes):
        for other in _needs(node):
            left[n] += 1
            later[number[id(other)]].append(n)
    ready = [(_by(node), n) for n, node in enumerate(nodes) if not left[n]]
    heapq.heapify(ready)
    made: list[Node] = []
    while ready:
        _, n = heapq.heappop(ready)
        made.append(nodes[n])
        for follower in later[n]:
            left[follower] -= 1
            if not left[follower]:
                heapq.heappush(ready, (_by(nodes[follower]), follower))
    if len(made) < len(nodes):
        raise Unplayable
    return tuple(made)


def _needs(node: Node) -> Iterator[Node]:
    yield from node.waits
    yield from node.starts
    if node.before is not None:
        yield node.before
    if node.shuts is not None and node.shuts.before is not None:
        yield node.shuts.before


def _by(node: Node) -> tuple[int, int, int]:
    return node.start, node.start + node.seconds, _RANK[node.what]
