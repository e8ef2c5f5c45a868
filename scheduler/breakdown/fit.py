"""Which presses can take an operation, and which operations may share a loading.

Temperatures in whole degrees of the shop's unit, times in seconds.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from models.day import Day
from models.operation import Operation, Route
from models.problem import NoPlan
from models.shop import Press
from models.units import Window, inward


@dataclass(frozen=True, slots=True)
class Fit:
    """What a press offers an operation: set-points, pressures in the press's order, pieces a loading."""

    press: str
    temperature: Window
    pressures: tuple[str, ...]
    capacity: int


def fits(day: Day, route: Route, operation: Operation) -> dict[str, Fit]:
    """The presses that can take an operation, in the shop's order.

    Capacity counts only as many pieces as can be unloaded before their latest peel where the press leaves
    no other way: one that opens by hand has to be cleared at once unless the peel may start at once.
    """
    found = {}
    for press in day.presses.values():
        fit = _fit(day, route, operation, press)
        if fit is not None:
            found[press.id] = fit
    return found


def why_not(day: Day, route: Route, operation: Operation) -> list[str]:
    """One sentence for each press that cannot take the operation, with every reason and its numbers."""
    return [
        f'press "{press.id}" ' + "; ".join(reasons)
        for press in day.presses.values()
        if (reasons := list(_reasons(day, route, operation, press)))
    ]


def check_fits(
    day: Day, routes: Mapping[tuple[str, str], tuple[Route, ...]]
) -> dict[tuple[str, str], tuple[Route, ...]]:
    """The routes whose every operation some press can take and some person can run.

    Raises NoPlan with a reason for every operation that has neither, for each garment and design left
    without a route.
    """
    reasons: dict[str, None] = {}
    kept = {}
    for pair, ways in routes.items():
        kept[pair] = tuple(way for way in ways if not any(_unworkable(day, way)))
        if not kept[pair]:
            reasons.update(dict.fromkeys(_unworkable(day, ways[0])))
    if reasons:
        raise NoPlan(list(reasons))
    return kept


def loading_window(day: Day, route: Route, operations: Sequence[Operation], press: str) -> Fit | None:
    """Whether these operations, next to each other on one placement, can share a loading on a press.

    The set-points and pressures that suit them all and the pieces such a loading holds, or None. A press
    that opens by hand is cleared or laid again the second it opens, so there each peel but the last
    must be allowed to start at once.
    """
    if not operations or not _adjacent(route, operations):
        return None
    *early, last = [_fit(day, route, op, day.presses[press]) for op in operations]
    together = last
    for op, fit in zip(operations, early, strict=False):
        if fit is None or together is None:
            return None
        if not day.presses[press].auto_open:
            fit = _peeled_at_once(day, op, fit)
        together = None if fit is None else _both(fit, together)
    return together


def _fit(day: Day, route: Route, operation: Operation, press: Press) -> Fit | None:
    if any(_reasons(day, route, operation, press)):
        return None
    temperature = _set_points(operation, press)
    assert temperature is not None
    return Fit(
        press=press.id,
        temperature=temperature,
        pressures=_pressures(day, operation, press),
        capacity=_in_time(day, route, operation, press, route.capacity(press.platen, operation.placement)),
    )


def _reasons(day: Day, route: Route, operation: Operation, press: Press) -> Iterator[str]:
    """Everything that keeps the operation off the press, each to be read after the press's name."""
    degree = day.shop.units.temperature
    if _set_points(operation, press) is None:
        lo, hi = press.temperature
        yield f"is set from {lo:g} to {hi:g} °{degree}, and {operation.temperature} °{degree} is needed"
    if not _pressures(day, operation, press):
        has, needs = _or(day.press_pressures(press.id)), _or(operation.pressures)
        yield f"can be set to {has} pressure, and {needs} is needed"
    if press.garments is not None and route.garment not in press.garments:
        yield f'does not take garment "{route.garment}" (only {_or(press.garments)})'
    if press.placements is not None and operation.placement not in press.placements:
        yield f'does not take placement "{operation.placement}" (only {_or(press.placements)})'
    capacity = route.capacity(press.platen, operation.placement)
    if not capacity:
        yield _too_small(day, route, operation, press)
    elif _set_points(operation, press) and not _in_time(day, route, operation, press, capacity):
        assert operation.peel_after is not None
        yield (
            f"opens by hand and has to be cleared at once: the peel starts at the earliest {operation.peel_after.lo} s "
            f"and at the latest {operation.peel_after.hi} s after it opens, and unloading a piece takes "
            f"{math.ceil(_fastest(day, press) * route.unload_s)} s"
        )


def _too_small(day: Day, route: Route, operation: Operation, press: Press) -> str:
    unit, platen = day.shop.units.length, _by(press.platen)
    bare = replace(route, footprint=None)
    if not bare.capacity(press.platen, operation.placement):
        return (
            f"has a platen of {platen} {unit}, and the placement takes {_by(route.sizes[operation.placement])} {unit}"
        )
    assert route.footprint is not None
    return f"has a platen of {platen} {unit}, and one piece takes up {_by(route.footprint)} {unit} (footprint)"


def _unworkable(day: Day, route: Route) -> Iterator[str]:
    """A sentence for each operation of a route without a press, or without a person for its presses."""
    for op in route.operations:
        where = (
            f'design "{route.design}" on garment "{route.garment}", placement "{op.placement}", '
            f"operation {op.number} ({_what(op)})"
        )
        able = fits(day, route, op)
        if not able:
            yield f"{where}: no press can take it: " + "; ".join(why_not(day, route, op))
        elif not any(_paces(day, press) for press in able):
            yield f"{where}: no person runs {_or(tuple(able))}, and no other press can take it"


def _in_time(day: Day, route: Route, operation: Operation, press: Press, capacity: int) -> int:
    """How many of `capacity` pieces can be unloaded before the latest peel, where they must be."""
    if press.auto_open or operation.peel_after is None or operation.peel_after.hi is None:
        return capacity
    if _at_once(day, operation, _set_points(operation, press)) is not None:
        return capacity
    pace, latest = _fastest(day, press), operation.peel_after.hi
    return next((n for n in range(capacity, 0, -1) if math.ceil(pace * n * route.unload_s - 1e-9) <= latest), 0)


def _peeled_at_once(day: Day, operation: Operation, fit: Fit) -> Fit | None:
    window = _at_once(day, operation, fit.temperature)
    return None if window is None else replace(fit, temperature=window)


def _at_once(day: Day, operation: Operation, window: Window | None) -> Window | None:
    """The set-points from which the peel may start the second the press opens; all where nothing is peeled."""
    if window is None or operation.peel_after is None:
        return window
    if operation.peel_after.lo > 0:
        return None
    met: Window | None = window
    for cool_to in operation.cool_to:
        met = None if met is None else met.meet(Window(met.lo, math.floor(cool_to.below + 1e-9)))
    return met


def _both(one: Fit, two: Fit) -> Fit | None:
    temperature = one.temperature.meet(two.temperature)
    pressures = tuple(word for word in one.pressures if word in two.pressures)
    if temperature is None or not pressures:
        return None
    return Fit(one.press, temperature, pressures, min(one.capacity, two.capacity))


def _adjacent(route: Route, operations: Sequence[Operation]) -> bool:
    """Whether these stand next to each other in the route, all on one placement."""
    if len({op.placement for op in operations}) > 1 or operations[0] not in route.operations:
        return False
    first = route.operations.index(operations[0])
    return route.operations[first : first + len(operations)] == tuple(operations)


def _set_points(operation: Operation, press: Press) -> Window | None:
    able = inward(*press.temperature)
    return None if able is None else operation.temperature.meet(able)


def _pressures(day: Day, operation: Operation, press: Press) -> tuple[str, ...]:
    return tuple(word for word in day.press_pressures(press.id) if word in operation.pressures)


def _paces(day: Day, press: str) -> list[float]:
    """The paces of the people who run a press."""
    return [person.pace for person in day.people.values() if person.presses is None or press in person.presses]


def _fastest(day: Day, press: Press) -> float:
    return min(_paces(day, press.id), default=1.0)


def _what(operation: Operation) -> str:
    films = " and ".join(f'"{film}"' for film in operation.films)
    return f"repress of {films}" if operation.repress else films


def _by(size: Sequence[float]) -> str:
    return " by ".join(f"{value:g}" for value in size)


def _or(words: Sequence[str]) -> str:
    quoted = [f'"{word}"' for word in words]
    return quoted[0] if len(quoted) == 1 else ", ".join(quoted[:-1]) + f" or {quoted[-1]}"
