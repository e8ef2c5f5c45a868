"""The least each operation can ask of presses and hands, whatever the plan: what the bounds are made of.

Over every legal route and every way to share loadings. Times in seconds a piece, at the pace of the
quickest person; a gang's closing is shared by as many pieces as the press takes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from models.day import Day
from models.operation import Operation, Route
from scheduler.breakdown import fits, loading_window
from scheduler.calendar import Spans, common, length, union, without
from scheduler.instance import Instance, Routes, hand
from scheduler.solving.cells import Cell, least_warm_up


@dataclass(frozen=True, slots=True)
class LeastFit:
    """The least one piece of an operation needs of a press: set-points [lo, hi], seconds on it and closed; and what a
    loading with it takes at the least from its dressing to its unloading (`loading`)."""

    lo: int
    hi: int
    pressures: tuple[str, ...]
    occupied: float
    closed: float
    loading: float


@dataclass(frozen=True, slots=True)
class LeastOperation:
    """One operation of one line: pieces, ready (seconds), and what follows its press time (`tail`).

    `rows`: each hand row's seconds a piece, at pace 1; a row serves up to `gang` pieces at once.
    """

    line: int
    pieces: int
    ready: int
    rows: tuple[float, ...]
    gang: int
    tail: float
    fits: dict[int, LeastFit] = field(hash=False)

    @property
    def hands(self) -> float:
        """Seconds of all hand rows a piece, at pace 1, before they are rounded up."""
        return sum(self.rows)

    @property
    def kind(self) -> tuple[object, ...]:
        """Operations of one kind ask the same of every press."""
        return (self.ready, self.rows, self.gang, self.tail, tuple(sorted(self.fits.items(), key=lambda f: f[0])))


def least_operations(day: Day, routes: Routes) -> list[LeastOperation]:
    """The least of every operation of every line."""
    quickest = min((who.pace for who in day.shop.person), default=1.0)
    found: list[LeastOperation] = []
    shapes: dict[tuple[str, str], list[_Shape]] = {}
    for number, line in enumerate(day.lines):
        key = (line.garment, line.design)
        if key not in shapes:
            shapes[key] = _shapes(day, routes[key], quickest)
        ready = max(0, day.seconds(line.ready)) if line.ready else 0
        for shape in shapes[key]:
            found.append(LeastOperation(number, line.quantity, ready, shape.rows, shape.gang, shape.tail, shape.fits))
    return found


def least_left(instance: Instance, routes: Routes) -> list[LeastOperation]:
    """The least of what is left of a day taken up half-way: of each lot the operations still before it."""
    day = instance.day
    quickest = min((who.pace for who in day.shop.person), default=1.0)
    found: list[LeastOperation] = []
    shapes: dict[tuple[str, str], dict[tuple[str, int], _Shape]] = {}
    for number, (line, chain) in enumerate(zip(instance.lines, instance.chains, strict=True)):
        key = (line.garment, line.design)
        if key not in shapes:
            names = _in_order_of_placements(routes[key][0])
            shapes[key] = dict(zip(names, _shapes(day, routes[key], quickest), strict=True))
        for op in (op for group in chain.groups for op in group):
            shape = shapes[key][op.placement, op.number]
            ready = instance.ready[number]
            found.append(LeastOperation(number, line.quantity, ready, shape.rows, shape.gang, shape.tail, shape.fits))
    return [op for op in found if op.pieces]


def _in_order_of_placements(route: Route) -> list[tuple[str, int]]:
    places = list(dict.fromkeys(op.placement for op in route.operations))
    return [(op.placement, op.number) for place in places for op in route.operations if op.placement == place]


def least_row(pace: float, seconds: float, gang: int) -> float:
    """The least seconds a piece of a hand row that serves up to `gang` pieces: rows are whole seconds."""
    return min(hand(pace, pieces, seconds) / pieces for pieces in range(1, gang + 1))


def hopeless(instance: Instance, operations: Sequence[LeastOperation]) -> bool:
    """Whether there is more work within the horizon than hands, or than presses that could take it, have time for, or
    a loading for which no press is warm, and served, long enough."""
    hands = sum(length(who.windows) / who.pace for who in instance.people)
    if sum(op.pieces * op.hands for op in operations) > hands:
        return True
    for presses in {frozenset(op.fits) for op in operations}:
        mine = [op for op in operations if presses >= op.fits.keys()]
        time = sum(instance.presses[p].stations * length(instance.presses[p].windows) for p in presses)
        if sum(op.pieces * min(fit.occupied for fit in op.fits.values()) for op in mine) > time:
            return True
    return any(op.ready >= instance.horizon or not _ever(instance, op) for op in operations)


def _ever(instance: Instance, op: LeastOperation) -> bool:
    """Whether one loading of it fits into some stretch in which a press is warm, from the first moment somebody serves
    it to the last."""
    for press, fit in op.fits.items():
        served = union(span for who in instance.people if press in who.presses for span in who.windows)
        for stretch in _warm(instance, press, fit):
            there = common([stretch], served)
            if there and there[-1][1] - max(there[0][0], op.ready) >= fit.loading:
                return True
    return False


def _warm(instance: Instance, press: int, fit: LeastFit) -> Spans:
    """When a press is at work, without the least warm-up each opening begins with."""
    side, cell, holes = instance.presses[press], Cell(fit.lo, fit.hi, ""), []
    hottest = max(float(fit.hi), side.at_start, float(instance.day.shop.press[press].temperature[1]))
    shown, night = side.at_start, 0
    for number, (opens, closes) in enumerate(instance.open_hours):
        if number:
            shown = min(float(fit.hi), instance.overnight(press, hottest, opens - night))
        if number or instance.standing is None:
            holes.append((opens, opens + least_warm_up(instance, press, shown, cell)))
        night = closes
    return without(side.windows, holes)


@dataclass(frozen=True, slots=True)
class _Shape:
    rows: tuple[float, ...]
    gang: int
    tail: float
    fits: dict[int, LeastFit]


def _shapes(day: Day, routes: Sequence[Route], quickest: float) -> list[_Shape]:
    """One for each operation of a route; windows are the widest over all legal routes."""
    shapes: list[_Shape] = []
    first = routes[0]
    by_place: dict[str, list[Operation]] = {}
    for op in first.operations:
        by_place.setdefault(op.placement, []).append(op)
    for ops in by_place.values():
        for at, op in enumerate(ops):
            alike = [
                (r, o) for r in routes for o in r.operations if (o.placement, o.number) == (op.placement, op.number)
            ]
            here = [op.align_s, op.peel_s]
            here += [first.load_s] if at == 0 else []
            here += [first.unload_s] if at == len(ops) - 1 else []
            on_press = quickest * (sum(here) - op.peel_s)
            if at < len(ops) - 1:
                apart = not _may_stay(day, routes, op, ops[at + 1])
                again = first.load_s + first.unload_s
                here += [first.unload_s, first.load_s] if apart else []
                on_press += quickest * (again if apart else min(again, op.peel_s))
            window = op.peel_window(op.temperature.lo, day.shop.room_temperature)
            tail = 0.0 if window is None else max(0.0, window.lo - quickest * first.unload_s)
            loading = quickest * (first.load_s + op.align_s + first.unload_s)
            found = _least_fits(day, alike, on_press, loading)
            shapes.append(_Shape(tuple(sorted(row for row in here if row)), _gang(day, alike), tail, found))
    return shapes


def _may_stay(day: Day, routes: Sequence[Route], a: Operation, b: Operation) -> bool:
    """Whether two operations of a placement that follow each other can be done without taking the pieces off."""
    for r in routes:
        pair = [
            o for o in r.operations if (o.placement, o.number) in ((a.placement, a.number), (b.placement, b.number))
        ]
        if any(loading_window(day, r, pair, press) is not None for press in day.presses):
            return True
    return False


def _gang(day: Day, alike: Sequence[tuple[Route, Operation]]) -> int:
    """The most pieces that any press takes of an operation at once."""
    return max((fit.capacity for route, op in alike for fit in fits(day, route, op).values()), default=1)


def _least_fits(
    day: Day, alike: Sequence[tuple[Route, Operation]], hands: float, loading: float
) -> dict[int, LeastFit]:
    found: dict[int, LeastFit] = {}
    for index, press in enumerate(day.presses):
        these = [(op, fit) for route, op in alike if (fit := fits(day, route, op).get(press)) is not None]
        if not these:
            continue
        closed = min((op.dwell.lo + (op.prepress.lo if op.prepress else 0)) / max(1, fit.capacity) for op, fit in these)
        lo = min(fit.temperature.lo for _, fit in these)
        hi = max(fit.temperature.hi or 0 for _, fit in these)
        words = tuple(dict.fromkeys(word for _, fit in these for word in fit.pressures))
        found[index] = LeastFit(lo, hi, words, hands + closed, closed, loading + closed)
    return found
