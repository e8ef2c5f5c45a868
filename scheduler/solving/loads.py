"""The least each way of loading can ask: a piece's operations on a placement, cut into loadings.

Every plan takes each piece through the operations of each of its placements in some loadings, each a run of
operations that follow each other. So of a part (all pieces of a line on one placement) so many pieces take each
run, and every operation lies in exactly one run of each piece. What a run asks at least is taken over every legal
route and over all set-points that suit it: its hand rows, seconds under heat, and, where the pieces stay on
the platen, the waits until their peels. Times in seconds.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

from models.day import Day
from models.operation import Operation, Route
from scheduler.breakdown import loading_window
from scheduler.breakdown.fit import Fit
from scheduler.instance import Instance, Routes


@dataclass(frozen=True, slots=True)
class RunFit:
    """The least one piece of a run asks of a press: set-points [lo, hi], seconds closed and waiting, pieces at once."""

    lo: int
    hi: int
    pressures: tuple[str, ...]
    closed: float
    wait: float
    capacity: int


@dataclass(frozen=True, slots=True)
class Run:
    """Operations `first` to `last` of a placement in one loading, by their place in it.

    `on`: hand rows that take place on the platen, `off`: those that need not; seconds a piece at pace 1.
    `tail`: seconds from the moment the platen could be clear to the earliest end of the last peel.
    `latest`: how long after the opening the last peel may wait, None for ever.
    """

    first: int
    last: int
    on: tuple[float, ...]
    off: tuple[float, ...]
    tail: float
    latest: int | None
    fits: Mapping[int, RunFit] = field(hash=False)

    @property
    def key(self) -> tuple[object, ...]:
        """Runs of one key ask the same."""
        return (
            self.first,
            self.last,
            self.on,
            self.off,
            self.tail,
            tuple(sorted(self.fits.items(), key=lambda f: f[0])),
        )


@dataclass(frozen=True, slots=True)
class Part:
    """All pieces of one line, or of alike lines, on one placement. `due` and `ready`: seconds from the day's start.

    `after`: the part whose last operation comes before this one's first, by its place in the list, where every
    legal route has it so. `lines`: by index, whose pieces they are.
    """

    pieces: int
    operations: int
    runs: tuple[Run, ...]
    ready: int
    due: int | None
    after: int | None = None
    lines: tuple[int, ...] = ()
    placement: str = ""


def least_parts(instance: Instance, routes: Routes) -> list[Part]:
    """The parts of every line, alike lines taken together; each part stands after the one it comes after."""
    day = instance.day
    lines: dict[tuple[object, ...], list[int]] = {}
    for number, line in enumerate(day.lines):
        due = instance.due[instance.order_of[number]]
        lines.setdefault((line.garment, line.design, instance.ready[number], due), []).append(number)
    shapes: dict[tuple[str, str], list[tuple[str, tuple[Run, ...], bool]]] = {}
    found: list[Part] = []
    for numbers in lines.values():
        line = day.lines[numbers[0]]
        pair = (line.garment, line.design)
        if pair not in shapes:
            shapes[pair] = _shapes(instance, routes[pair])
        pieces = sum(day.lines[n].quantity for n in numbers)
        due = instance.due[instance.order_of[numbers[0]]]
        for place, runs, follows in shapes[pair]:
            after, ready = len(found) - 1 if follows else None, instance.ready[numbers[0]]
            found.append(Part(pieces, runs[-1].last + 1, runs, ready, due, after, tuple(numbers), place))
    return found


def _shapes(instance: Instance, routes: Sequence[Route]) -> list[tuple[str, tuple[Run, ...], bool]]:
    """The runs of each placement, and whether it always comes after the placement before it."""
    orders = {tuple(dict.fromkeys(op.placement for op in route.operations)) for route in routes}
    whole = all(_contiguous(route) for route in routes)
    places = next(iter(sorted(orders)))
    made = []
    for at, place in enumerate(places):
        follows = at > 0 and len(orders) == 1 and whole
        made.append((place, _runs(instance, routes, place), follows))
    return made


def _contiguous(route: Route) -> bool:
    places = [op.placement for op in route.operations]
    return all(places.index(p) + places.count(p) == len(places) - places[::-1].index(p) for p in set(places))


def _runs(instance: Instance, routes: Sequence[Route], place: str) -> tuple[Run, ...]:
    count = max(op.number for op in routes[0].operations if op.placement == place)
    runs = []
    for first in range(count):
        for last in range(first, count):
            ways = [(r, _between(r, place, first, last)) for r in routes]
            run = _run(instance, ways, first, last)
            if run.fits:
                runs.append(run)
    return tuple(sorted(runs, key=lambda run: (run.last, run.first)))


def _between(route: Route, place: str, first: int, last: int) -> list[Operation]:
    mine = sorted((op for op in route.operations if op.placement == place), key=lambda op: op.number)
    return mine[first : last + 1]


def _run(instance: Instance, ways: Sequence[tuple[Route, list[Operation]]], first: int, last: int) -> Run:
    route = ways[0][0]
    steps = range(last - first + 1)
    aligns = [min(ops[n].align_s for _, ops in ways) for n in steps]
    peels = [min(ops[n].peel_s for _, ops in ways) for n in steps]
    on = [route.load_s, route.unload_s, *aligns, *peels[:-1]]
    served = {who for person in instance.people for who in person.presses}
    found = {}
    for press in instance.presses:
        if press.index in served:
            fit = _fit(instance.day, ways, press.id)
            if fit is not None:
                found[press.index] = fit
    rows = tuple(sorted(row for row in on if row))
    quickest = min((who.pace for who in instance.people), default=1.0)
    tail = min(_tail(ops[-1], instance.room, quickest * route.unload_s) for route, ops in ways)
    return Run(
        first, last, rows, tuple(row for row in peels[-1:] if row), tail, _latest([o[-1] for _, o in ways]), found
    )


def _latest(ops: Sequence[Operation]) -> int | None:
    ends = [0 if op.peel_after is None else op.peel_after.hi for op in ops]
    return None if None in ends else max(end for end in ends if end is not None)


def _tail(op: Operation, room: float, unload: float) -> float:
    window = op.peel_window(op.temperature.lo, room)
    return 0.0 if window is None else max(0.0, window.lo - unload)


def _fit(day: Day, ways: Sequence[tuple[Route, list[Operation]]], press: str) -> RunFit | None:
    """The widest window, the least seconds and the most pieces over the routes."""
    these = [(ops, fit) for route, ops in ways if (fit := loading_window(day, route, ops, press)) is not None]
    if not these:
        return None
    return RunFit(
        min(fit.temperature.lo for _, fit in these),
        max(fit.temperature.hi or 0 for _, fit in these),
        tuple(dict.fromkeys(word for _, fit in these for word in fit.pressures)),
        min(_closed(ops) / max(1, fit.capacity) for ops, fit in these),
        min(_wait(day, ops, fit) / max(1, fit.capacity) for ops, fit in these),
        max(1, *(fit.capacity for _, fit in these)),
    )


def _closed(ops: Sequence[Operation]) -> int:
    return sum(op.dwell.lo + (op.prepress.lo if op.prepress else 0) for op in ops)


def _wait(day: Day, ops: Sequence[Operation], fit: Fit) -> int:
    """Seconds the loading stands open before its peels on the platen, at the coolest set-point."""
    windows = [op.peel_window(fit.temperature.lo, day.shop.room_temperature) for op in ops[:-1]]
    return sum(window.lo for window in windows if window is not None)


def least_platen(instance: Instance, part: Part) -> float:
    """The least seconds of a platen that one piece takes, over every way to cut its operations into loadings."""
    quickest = min((who.pace for who in instance.people), default=1.0)

    def seconds(run: Run) -> float:
        return quickest * sum(run.on) + min(fit.closed + fit.wait for fit in run.fits.values())

    return _cheapest(part, seconds)


def least_hands_on(part: Part) -> float:
    """The least hand seconds of one piece at pace 1 that take place on platens."""
    return _cheapest(part, lambda run: sum(run.on))


def _cheapest(part: Part, seconds: Callable[[Run], float]) -> float:
    best = [0.0] + [math.inf] * part.operations
    for run in part.runs:  # in the order of their last operations
        best[run.last + 1] = min(best[run.last + 1], best[run.first] + seconds(run))
    return best[part.operations]
