"""How each line goes by default: which route, and which operations share a loading."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import NamedTuple

from models.day import Day
from models.operation import Operation, Route
from scheduler.breakdown import fits, loading_window
from scheduler.instance import Chain, Routes

_SCARCE = 4  # a power: how sharply the worth falls to what there is most to do of
_WAITED = 2.0  # times as long as it must a loading waits until it is peeled, on days that were played


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


def shareable(day: Day, route: Route, group: Sequence[Operation]) -> bool:
    """Whether any press takes a group in one loading."""
    return any(loading_window(day, route, group, press) is not None for press in day.presses)


def alternatives(day: Day, routes: Routes, now: Sequence[Chain]) -> list[tuple[frozenset[int], Chain]]:
    """Other chains for all lines of one garment and design: those that seem to save something first, the most first,
    and those that seem to cost something last; of the same, the likeliest ways and the heaviest lines first."""
    by_pair: dict[tuple[str, str], list[int]] = {}
    for number, line in enumerate(day.lines):
        by_pair.setdefault((line.garment, line.design), []).append(number)
    worth = worth_of(day, now)
    found: list[tuple[tuple[float, int, int], frozenset[int], Chain]] = []
    for pair, lines in by_pair.items():
        pieces = sum(day.lines[n].quantity for n in lines)
        stands = asks(day, now[lines[0]])
        for rank, chain in enumerate(_ways(day, routes[pair], now[lines[0]])):
            cost = round(pieces * (worth.seconds(asks(day, chain)) - worth.seconds(stands)), 3)
            weight = pieces * len(chain.route.operations)
            found.append(((math.inf if cost > 0 else cost, rank, -weight), frozenset(lines), chain))
    return [(lines, chain) for _, lines, chain in sorted(found, key=lambda f: f[0])]


class Asks(NamedTuple):
    """What a piece asks for on its way: seconds of hands, of a platen, and of these until peels on it."""

    hands: float
    platen: float
    wait: float


class Worth(NamedTuple):
    """What a second of hands, of a platen, and of waiting for a peel is worth, in seconds of the second goal."""

    hands: float
    platen: float
    wait: float

    def seconds(self, asked: Asks) -> float:
        """What is asked for, as seconds of the second goal."""
        return self.hands * asked.hands + self.platen * asked.platen + self.wait * asked.wait


def asks(day: Day, chain: Chain) -> Asks:
    """What a chain asks for at the least, at pace 1."""
    route = chain.route
    hands = len(chain.groups) * (route.load_s + route.unload_s) + sum(op.align_s + op.peel_s for op in route.operations)
    closed = sum(op.dwell.lo + (op.prepress.lo if op.prepress else 0) for op in route.operations)
    stays = [op for group in chain.groups for op in group[:-1]]
    windows = [op.peel_window(op.temperature.lo, day.shop.room_temperature) for op in stays]
    wait = sum(window.lo for window in windows if window is not None)
    off = sum(group[-1].peel_s for group in chain.groups)
    return Asks(hands, hands - off + closed + wait, wait)


def worth_of(day: Day, chains: Sequence[Chain]) -> Worth:
    """What is scarce where the lines go so: the finish is put off by what the people, or the presses, have to do most
    of."""
    goals, asked = day.shop.goals, [asks(day, chain) for chain in chains]
    staff = sum(1 / who.pace for who in day.shop.person)
    platens = sum(press.stations for press in day.shop.press)
    busy = sum(line.quantity * a.hands for line, a in zip(day.lines, asked, strict=True)) / staff
    full = sum(line.quantity * a.platen for line, a in zip(day.lines, asked, strict=True)) / platens
    share = busy**_SCARCE / ((busy**_SCARCE + full**_SCARCE) or 1.0)
    return Worth(goals.finish * share / staff, goals.finish * (1 - share) / platens, _WAITED * goals.peel_wait)


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
        if groups and groups[-1][-1].placement == op.placement and shareable(day, route, [*groups[-1], op]):
            groups[-1].append(op)
        else:
            groups.append([op])
    return tuple(tuple(group) for group in groups)
