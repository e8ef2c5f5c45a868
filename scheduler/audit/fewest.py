"""Contract 2.3: a placement gets the fewest closings it can have. The auditor's own search for a way with fewer.

A way is a sequence of groups of layers; whether it is legal is asked of the same recipe that judges the rows, so that
the search itself knows only how to put groups together. The other placements of the piece stay as they were made.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import cached_property
from itertools import combinations

from models.catalog import Garment
from models.day import Day
from models.design import Design, Placement
from scheduler.audit import art
from scheduler.audit.finding import Finding
from scheduler.audit.heat import cooled
from scheduler.audit.pieces import Recipes, few
from scheduler.audit.recipe import Need, Step, recipe
from scheduler.audit.table import Entry, Table

LAYERS = 10  # placements with more are not searched: the planner says itself that their grouping is not proven
STEPS = 20_000  # groups looked at before a search is given up without a finding

Group = tuple[int, ...]


def no_way_with_fewer(table: Table, recipes: Recipes) -> Iterator[Finding]:
    """No placement is pressed in more closings than a legal grouping of its layers takes."""
    for (garment, design, steps), pieces in recipes.alike.items():
        if recipes.known[garment, design, steps].wrong:
            continue  # what is not legal is told by other rules
        for place in table.day.design[design].placement:
            mine = [step for step in steps if step[0] == place.at]
            better = fewer(table.day, table.day.garments[garment], table.day.design[design], place, steps)
            if better is not None:
                ways = ", then ".join(";".join(map(str, group)) or "a repress" for group in better)
                text = f'{len(mine)} closings on "{place.at}" of "{design}" where {len(better)} do (layers {ways})'
                yield table.find("fewest-operations", _last(recipes, pieces[0], place), f"{text}: {few(pieces)}")


def _last(recipes: Recipes, piece: str, place: Placement) -> Entry:
    return [c for c in recipes.of[piece][1] if c.loading.placement == place.at][-1].dwell


def fewer(
    day: Day, garment: Garment, design: Design, place: Placement, steps: Sequence[Step]
) -> tuple[Group, ...] | None:
    """Layers of fewer closings for one placement (a repress has none), or None where no way was found.

    `steps`: all closings of the piece in the order they were made, legal.
    """
    count = len(place.layer)
    laid = sorted(layer for at, layers in steps if at == place.at for layer in layers)
    if laid != list(range(1, count + 1)) or count > LAYERS:
        return None
    return _Search(day, garment, design, place, steps).run()


class _Search:
    def __init__(self, day: Day, garment: Garment, design: Design, place: Placement, steps: Sequence[Step]) -> None:
        self.day, self.garment, self.design, self.place, self.steps = day, garment, design, place, steps
        self.films = [day.films[layer.film] for layer in place.layer]
        self.under: dict[int, set[int]] = {n: set() for n in range(1, len(self.films) + 1)}
        for low, high in art.overlaps(place):
            self.under[high].add(low)
        self.known: dict[tuple[Group, bool], bool] = {}
        self.seen = 0

    def run(self) -> tuple[Group, ...] | None:
        made = sum(step[0] == self.place.at for step in self.steps)
        for most in range(self._height(frozenset()), made):
            for way in self._ways((), frozenset(), most):
                if self._legal(way):
                    return way
            if self.seen > STEPS:
                break
        return None

    def _ways(self, way: tuple[Group, ...], laid: frozenset[int], left: int) -> Iterator[tuple[Group, ...]]:
        """Every sequence of groups (with their represses) of at most `left` closings that lays what is not laid."""
        if len(laid) == len(self.films):
            yield way
            return
        free = [n for n, lower in self.under.items() if n not in laid and lower <= laid]
        for group in self._groups(free, laid):
            again: tuple[Group, ...] = ((),) if self._represses(group) else ()
            rest = left - 1 - len(again)
            after = laid | set(group)
            if rest >= self._height(after):
                yield from self._ways((*way, group, *again), after, rest)

    def _groups(self, free: Sequence[int], laid: frozenset[int]) -> Iterator[Group]:
        """Free layers that may share a closing, the larger groups first."""
        for size in range(len(free), 0, -1):
            for group in combinations(free, size):
                self.seen += 1
                if self.seen > STEPS:
                    return
                last = len(laid) + size == len(self.films) and not self._represses(group)
                if self._shares(group, not last):
                    yield group

    def _height(self, laid: frozenset[int]) -> int:
        """The longest pile of layers still to be laid, each on the one before: so many closings at least."""
        heights: dict[int, int] = {}
        for n, lower in self.under.items():  # the lower of two always has the lower number
            if n not in laid:
                heights[n] = 1 + self._represses((n,)) + max((heights[m] for m in lower if m in heights), default=0)
        return max(heights.values(), default=0)

    def _represses(self, group: Group) -> bool:
        return any(self.films[n - 1].repress_s is not None for n in group)

    def _shares(self, group: Group, again: bool) -> bool:
        """Whether layers agree in one closing; `again`: the placement is pressed once more later on."""
        key = (group, again)
        if key not in self.known:
            steps: list[Step] = [(self.place.at, group), *([(self.place.at, ())] if again else [])]
            made = recipe(self.day, self.garment, self.design, steps)
            agree = not any(k == 0 and rule in ("windows-apart", "carrier", "layer-order") for rule, k, _ in made.wrong)
            self.known[key] = agree and self._cools(made.needs[0])
        return self.known[key]

    def _cools(self, need: Need) -> bool:
        """Whether the garment is cool enough for the peel while every film may still be peeled."""
        tau = self.garment.cooling_tau_s
        if tau is None:
            return True
        coolest, latest = max(b.lo for b in need.temperature), min(b.hi for b in need.peel)
        below = [film.peel_below for film in need.films if film.peel_below is not None]
        return all(cooled(tau, coolest, peel, self.day.shop.room_temperature) <= latest for peel in below)

    def _legal(self, way: tuple[Group, ...]) -> bool:
        """Whether a way is legal in place of the closings the placement had, everything else as it was."""
        units = [(group, *([()] if self._represses(group) else [])) for group in way if group]
        tried: set[tuple[Step, ...]] = set()
        for slots in combinations(self._slots, len(units)):
            steps = self._placed(dict(zip(slots, units, strict=True)))
            self.seen += 1
            if steps not in tried and not recipe(self.day, self.garment, self.design, steps).wrong:
                return True
            tried.add(steps)
        return False

    @cached_property
    def _slots(self) -> list[int]:
        """Where the placement's closings stood among all."""
        return [k for k, step in enumerate(self.steps) if step[0] == self.place.at]

    def _placed(self, units: dict[int, tuple[Group, ...]]) -> tuple[Step, ...]:
        """The steps with these units in some of the placement's slots, and nothing in the others."""
        steps: list[Step] = []
        for k, step in enumerate(self.steps):
            steps += [(self.place.at, group) for group in units.get(k, ())]
            steps += [] if step[0] == self.place.at else [step]
        return tuple(steps)
