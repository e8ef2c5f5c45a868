"""Rule 8: in which order the placements of a garment may be pressed, and the routes that follow.

Whole placements one after the other wherever that is legal; where it is not (films that do not stand the
heat of another placement, or so many pressings), operations of the placements in turn.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from heapq import heappop, heappush
from itertools import permutations
from typing import NamedTuple

from models.operation import Route
from scheduler.breakdown.closings import closings
from scheduler.breakdown.geometry import size
from scheduler.breakdown.grouping import Cost
from scheduler.breakdown.windows import least
from scheduler.breakdown.work import Unit, Work

# Routes handed on, the preferred one first.
MOST = 24
# Up to so many placements every order is tried; beyond, the neighbours of a good one.
EVERY_ORDER = 4
# How many part-done interleavings are looked at.
LOOKED_AT = 20_000

Order = tuple[int, ...]


class Way(NamedTuple):
    """Placements in one order, by index in the design, with their units and what they cost together."""

    cost: Cost
    order: Order
    units: tuple[Unit, ...]
    proven: bool


def routes(work: Work, warnings: Sequence[str]) -> tuple[Route, ...]:
    """Legal routes, the preferred one first; empty where there is none."""
    ways = _ways(work) or _interleaved(work)
    return tuple(route for way in ways if (route := _route(work, way, warnings)) is not None)


def _route(work: Work, way: Way, warnings: Sequence[str]) -> Route | None:
    operations = closings(work, way.units)
    if operations is None:
        return None
    hands, garment = work.day.shop.hands, work.garment
    unproven = f'design "{work.design.id}" on "{garment.id}": so many layers that the grouping is good but not proven'
    return Route(
        garment=garment.id,
        design=work.design.id,
        operations=operations,
        sizes={place.at: size(place) for place in work.design.placement},
        load_s=hands.load_s if garment.load_s is None else garment.load_s,
        unload_s=hands.unload_s if garment.unload_s is None else garment.unload_s,
        footprint=garment.footprint,
        warnings=(*warnings, *(() if way.proven else (unproven,))),
    )


def _ways(work: Work) -> list[Way]:
    """Legal orders of whole placements: the design's first where it is legal, then the better ones first."""
    listed = tuple(range(len(work.design.placement)))
    if len(listed) <= EVERY_ORDER:
        orders: list[Order] = list(permutations(listed))
    else:
        start = listed if _way(work, listed) is not None else _best_order(work)
        orders = [] if start is None else _neighbours(start)
    found = [way for order in orders if (way := _way(work, order)) is not None]
    found.sort(key=lambda way: (way.order != listed, way.cost, way.order))
    return found[:MOST]


def _way(work: Work, order: Order) -> Way | None:
    """Each placement at its best in this order, or None where the order is not legal.

    From the last to the first: what is laid before a placement limits its heat, and how many closings
    come after it counts against its films' reheats.
    """
    cost: Cost = (0, 0, 0)
    units: list[Unit] = []
    proven = True
    for n in reversed(range(len(order))):
        step = _placed(work, order[n], order[:n], cost)
        if step is None:
            return None
        cost, laid, sure = step
        units[:0] = laid
        proven = proven and sure
    return Way(cost, order, tuple(units), proven)


def _placed(work: Work, index: int, before: Order, after: Cost) -> tuple[Cost, list[Unit], bool] | None:
    """One placement between those before it and closings after it that cost `after`."""
    places = list(work.parts)
    limit = least(part.demand.reheat_max for b in before for part in work.parts[places[b]])
    place = places[index]
    grouping = work.groupers[place].solve(limit, after[0])
    if grouping is None:
        return None
    operations, dwell, width = (a + b for a, b in zip(grouping.cost, after, strict=True))
    units = [Unit(place, tuple(i + 1 for i in group)) for group in grouping.groups]
    return (operations, dwell, width), units, grouping.proven


def _best_order(work: Work) -> Order | None:
    """The best legal order of whole placements: a dynamic programme over those pressed last."""
    everything = frozenset(range(len(work.design.placement)))
    level: dict[frozenset[int], tuple[Cost, Order]] = {frozenset(): ((0, 0, 0), ())}
    for _ in everything:
        grown: dict[frozenset[int], tuple[Cost, Order]] = {}
        for last, (cost, order) in level.items():
            for index in sorted(everything - last):
                step = _placed(work, index, tuple(everything - last - {index}), cost)
                if step is not None:
                    found = (step[0], (index, *order))
                    key = last | {index}
                    grown[key] = min(found, grown.get(key, found))
        level = grown
    return level[everything][1] if everything in level else None


def _neighbours(order: Order) -> list[Order]:
    """The order itself, turned round, and with each placement moved to the front, to the end or one on."""
    found = {order: None, order[::-1]: None}
    for n, index in enumerate(order):
        rest = order[:n] + order[n + 1 :]
        for moved in ((index, *rest), (*rest, index), (*rest[: n + 1], index, *rest[n + 1 :])):
            found[moved] = None
    return list(found)


def _interleaved(work: Work) -> list[Way]:
    """Operations of the placements in turn, fewest changes of placement first."""
    grouping = work.whole.solve()
    if grouping is None:
        return []
    parts = work.all_parts
    given = [Unit(parts[group[0]].place, tuple(parts[i].number for i in group)) for group in grouping.groups]
    found = list(_alternations(work, given)) or [tuple(given)]
    return [Way(grouping.cost, (), units, grouping.proven) for units in found]


class _Half(NamedTuple):
    """An interleaving half done: changes of placement so far, units to lay, units laid by index."""

    changes: int
    left: int
    laid: tuple[int, ...]


def _alternations(work: Work, given: Sequence[Unit]) -> Iterator[tuple[Unit, ...]]:
    """Legal orders of the units that keep the order within each placement, at most MOST of them."""
    queue, given_out = [_Half(0, len(given), ())], 0
    seen: Counter[tuple[frozenset[int], str]] = Counter()
    for _ in range(LOOKED_AT):
        if not queue or given_out == MOST:
            return
        half = heappop(queue)
        if not half.left:
            given_out += 1
            yield tuple(given[i] for i in half.laid)
            continue
        # No more ways to the same half are needed than whole ones are wanted.
        where = (frozenset(half.laid), given[half.laid[-1]].place if half.laid else "")
        seen[where] += 1
        if seen[where] <= MOST:
            for nxt in _next_units(work, given, half.laid):
                heappush(queue, _Half(half.changes + _changes(given, half.laid, nxt), half.left - 1, (*half.laid, nxt)))


def _changes(given: Sequence[Unit], laid: Sequence[int], nxt: int) -> int:
    return int(bool(laid) and given[laid[-1]].place != given[nxt].place)


def _next_units(work: Work, given: Sequence[Unit], laid: Sequence[int]) -> list[int]:
    """Units that may come next: the first of each placement whose films stand all that is still to come."""
    rest = [i for i in range(len(given)) if i not in laid]
    firsts = {given[i].place: i for i in reversed(rest)}
    return sorted(i for i in firsts.values() if _stands(work, given[i], [given[j] for j in rest if j != i]))


def _stands(work: Work, unit: Unit, later: Sequence[Unit]) -> bool:
    follow = sum(_pressings(work, other) for other in later) + _pressings(work, unit) - 1
    heat = max((d.temperature.lo for other in later for d in work.demands(other)), default=0)
    return all(not d.spoilt_at(heat) and (d.reheats is None or follow <= d.reheats) for d in work.demands(unit))


def _pressings(work: Work, unit: Unit) -> int:
    return 2 if any(d.repress is not None for d in work.demands(unit)) else 1
