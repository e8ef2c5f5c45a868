"""Rule 8: in which order the placements of a garment may be pressed, and the routes that follow.

Whole placements one after the other wherever that is legal; where it is not (films that do not stand the
heat of another placement, or so many pressings), operations of the placements in turn.
"""

from __future__ import annotations

from collections.abc import Sequence
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
# How many half-done interleavings of operations are followed at once.
SIDE_BY_SIDE = 200

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
    return tuple(_route(work, way, warnings) for way in ways)


def _route(work: Work, way: Way, warnings: Sequence[str]) -> Route:
    hands, garment = work.day.shop.hands, work.garment
    unproven = f'design "{work.design.id}" on "{garment.id}": so many layers that the grouping is good but not proven'
    return Route(
        garment=garment.id,
        design=work.design.id,
        operations=closings(work, way.units),
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
    return [Way(grouping.cost, (), units, grouping.proven) for units in _Turns(work, given).orders()]


class _Half(NamedTuple):
    """An interleaving half done: changes of placement so far, and units laid, by index in `given`."""

    changes: int
    laid: tuple[int, ...]


class _Turns:
    """Orders of given units that keep the order within each placement and stand all that follows.

    A unit whose films stand everything still to come may come next without harm to any other, so a search
    that lays only such units never runs into a dead end.
    """

    def __init__(self, work: Work, given: Sequence[Unit]) -> None:
        self._given = given
        self._demands = [work.demands(unit) for unit in given]
        self._heat = [max(d.temperature.lo for d in demands) for demands in self._demands]
        self._closings = [2 if any(d.repress is not None for d in demands) else 1 for demands in self._demands]

    def orders(self) -> list[tuple[Unit, ...]]:
        """At most MOST orders, those with the fewest changes of placement found first."""
        halves = [_Half(0, ())]
        for _ in self._given:
            halves = sorted(self._grown(half, nxt) for half in halves for nxt in self._next(half.laid))[:SIDE_BY_SIDE]
        return [tuple(self._given[i] for i in half.laid) for half in halves[:MOST]]

    def _grown(self, half: _Half, nxt: int) -> _Half:
        changed = bool(half.laid) and self._given[half.laid[-1]].place != self._given[nxt].place
        return _Half(half.changes + changed, (*half.laid, nxt))

    def _next(self, laid: Sequence[int]) -> list[int]:
        """Units that may come next: the first left of each placement, where it stands all the rest."""
        rest = [i for i in range(len(self._given)) if i not in laid]
        firsts = {self._given[i].place: i for i in reversed(rest)}
        follow = sum(self._closings[i] for i in rest)
        return [i for i in firsts.values() if self._stands(i, [j for j in rest if j != i], follow - 1)]

    def _stands(self, unit: int, later: Sequence[int], follow: int) -> bool:
        heat = max((self._heat[j] for j in later), default=0)
        return all(not d.spoilt_at(heat) and (d.reheats is None or follow <= d.reheats) for d in self._demands[unit])
