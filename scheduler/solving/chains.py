"""How each line goes by default: which route, and which operations share a loading."""

from __future__ import annotations

from collections.abc import Sequence

from models.day import Day
from models.operation import Operation, Route
from scheduler.breakdown import fits, loading_window
from scheduler.instance import Chain, Routes


def default_chains(day: Day, routes: Routes) -> list[Chain]:
    """For each line its preferred route, with operations sharing a loading where that costs no freedom."""
    made: dict[tuple[str, str], Chain] = {}
    for line in day.lines:
        key = (line.garment, line.design)
        if key not in made:
            made[key] = Chain(routes[key][0], share(day, routes[key][0]))
    return [made[line.garment, line.design] for line in day.lines]


def share(day: Day, route: Route) -> tuple[tuple[Operation, ...], ...]:
    """Operations grouped into loadings: joined where every press that takes them one by one takes them
    together, and the wait on the platen is no longer than unloading and loading again."""
    groups: list[list[Operation]] = []
    for op in route.operations:
        if groups and worth_sharing(day, route, [*groups[-1], op]):
            groups[-1].append(op)
        else:
            groups.append([op])
    return tuple(tuple(group) for group in groups)


def worth_sharing(day: Day, route: Route, group: Sequence[Operation]) -> bool:
    """Whether a group may share a loading on every press that fits its parts, without a long wait."""
    if group[-1].placement != group[-2].placement:
        return False
    single = set(fits(day, route, group[0]))
    for op in group[1:]:
        single &= set(fits(day, route, op))
    together = {p for p in day.presses if loading_window(day, route, group, p) is not None}
    waits = [op.peel_window(op.temperature.hi or 0, day.shop.room_temperature) for op in group[:-1]]
    wait = max((w.lo for w in waits if w is not None), default=0)
    return bool(single) and single == together and wait <= route.load_s + route.unload_s
