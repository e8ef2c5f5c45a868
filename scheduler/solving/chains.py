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


def alternatives(day: Day, routes: Routes, now: Sequence[Chain]) -> list[tuple[frozenset[int], Chain]]:
    """Other chains for all lines of one garment and design, the heaviest first, the likeliest ways first."""
    by_pair: dict[tuple[str, str], list[int]] = {}
    for number, line in enumerate(day.lines):
        by_pair.setdefault((line.garment, line.design), []).append(number)
    found: list[tuple[int, int, frozenset[int], Chain]] = []
    for pair, lines in by_pair.items():
        weight = sum(day.lines[n].quantity for n in lines) * len(routes[pair][0].operations)
        for rank, chain in enumerate(_ways(day, routes[pair], now[lines[0]])):
            found.append((rank, -weight, frozenset(lines), chain))
    return [(lines, chain) for _, _, lines, chain in sorted(found, key=lambda f: f[:2])]


def _ways(day: Day, routes: Sequence[Route], now: Chain) -> list[Chain]:
    ways: list[Chain] = []
    for route in routes:
        single = tuple((op,) for op in route.operations)
        for groups in (share(day, route), single, _all_shared(day, route)):
            chain = Chain(route, groups)
            if chain != now and chain not in ways:
                ways.append(chain)
    return ways


def _all_shared(day: Day, route: Route) -> tuple[tuple[Operation, ...], ...]:
    """Operations joined wherever any press takes them together."""
    groups: list[list[Operation]] = []
    for op in route.operations:
        if (
            groups
            and groups[-1][-1].placement == op.placement
            and any(loading_window(day, route, [*groups[-1], op], press) is not None for press in day.presses)
        ):
            groups[-1].append(op)
        else:
            groups.append([op])
    return tuple(tuple(group) for group in groups)
