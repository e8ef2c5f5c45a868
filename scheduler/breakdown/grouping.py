"""Rule 3: which layers go down together, and in which order.

A dynamic programme over the sets of layers that are laid last. Whatever is laid before a set decides how
hot the set may be pressed; how many closings the set takes decides what the layers before it must stand.
So the best way to lay a set last is made of the best way to lay a smaller set last and one operation
before it. Costs compare as (operations, total dwell, -total width of the temperature windows).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from scheduler.breakdown.windows import Blend, Demand, blend, least

# Up to EXACT layers every grouping is weighed. Beyond, of n layers the best BEAM // n sets of each size are
# followed, and where more than GROUPS groups may come before a set only grown ones are weighed.
EXACT = 10
BEAM = 640
GROUPS = 64

Cost = tuple[int, int, int]


@dataclass(frozen=True, slots=True)
class Part:
    """One layer to be laid: `over` and `apart` are bit sets of indices into the same list of parts.

    `over`: layers lying on top of it, in later operations. `apart`: layers that cannot share an operation
    with it because of where they lie. `number` counts from 1 within the placement `place`.
    """

    place: str
    number: int
    demand: Demand
    over: int = 0
    apart: int = 0


@dataclass(frozen=True, slots=True)
class Grouping:
    """Layers in operations, first to last, as indices of parts; `proven`: nothing legal is better."""

    groups: tuple[tuple[int, ...], ...]
    cost: Cost
    proven: bool

    @property
    def operations(self) -> int:
        """Closings it takes, represses counted."""
        return self.cost[0]


class Step(NamedTuple):
    """The best way found to lay the set `laid` last: first `group`, then as `rest` says."""

    cost: Cost
    laid: int
    group: int
    rest: Step | None

    def groups(self) -> Iterator[int]:
        """The groups in order."""
        step = self
        while step.rest is not None:
            yield step.group
            step = step.rest

    def positions(self) -> list[int]:
        """For each layer, lowest first, the number of the group that lays it."""
        return [n for _, n in sorted((i, n) for n, group in enumerate(self.groups()) for i in bits(group))]


def bits(mask: int) -> Iterator[int]:
    """The indices in a bit set, ascending."""
    while mask:
        low = mask & -mask
        yield low.bit_length() - 1
        mask ^= low


class Grouper:
    """Groups the same layers again and again, for other limits and other numbers of later closings."""

    def __init__(self, parts: Sequence[Part], room: float, late: int) -> None:
        self._parts, self._room, self._late = tuple(parts), room, late
        self._all = (1 << len(parts)) - 1
        # Layers that ask the same are of one kind; what films share depends on their kinds alone.
        self._kinds = list(dict.fromkeys(part.demand for part in parts))
        self._kind = [1 << self._kinds.index(part.demand) for part in parts]
        self._blends: dict[int, Blend | None] = {}
        self._mixes: dict[int, Blend | None] = {}
        self._stands: dict[int, tuple[int | None, int | None]] = {0: (None, None)}
        self._choices: dict[int, tuple[list[int], bool]] = {}
        self._solved: dict[tuple[int | None, int], Grouping | None] = {}
        self._place = [sum(1 << j for j, other in enumerate(parts) if other.place == part.place) for part in parts]
        self.apart = [self._kept_apart(i) for i in range(len(parts))]
        self._hottest = max(p.demand.temperature.hi or 0 for p in parts)
        self._fewest = least(p.demand.reheats for p in parts)

    def solve(self, limit: int | None = None, later: int = 0) -> Grouping | None:
        """The best legal grouping, or None where there is none.

        `limit`: what the films already on the garment stand. `later`: closings that follow on it.
        """
        # Limits that bind nothing are all the same: two closings a layer are the most there can be.
        counts = self._fewest is not None and self._fewest < later + 2 * len(self._parts)
        key = (None if limit is not None and limit >= self._hottest else limit, later if counts else 0)
        if key not in self._solved:
            self._solved[key] = self._search(*key)
        return self._solved[key]

    def _search(self, limit: int | None, later: int) -> Grouping | None:
        nothing = Step((0, 0, 0), 0, 0, None)
        together = self._all_together(nothing, limit, later)
        if together is not None:
            return together
        levels: list[dict[int, Step]] = [{} for _ in range(len(self._parts) + 1)]
        levels[0][0] = nothing
        proven = True
        for level in levels[:-1]:
            kept = self._kept(list(level.values()))
            proven = proven and len(kept) == len(level)
            for rest in kept:
                groups, every = self._groups_before(rest.laid)
                proven = proven and every
                for group in groups:
                    laid = rest.laid | group
                    target = levels[laid.bit_count()]
                    held = target.get(laid)
                    # One more operation is already too many where the set is laid in no more than `rest` takes.
                    if held is None or held.cost[0] > rest.cost[0]:
                        step = self._before(group, rest, limit, later)
                        if step is not None and (held is None or _better(step, held)):
                            target[laid] = step
        best = levels[-1].get(self._all)
        if best is None:
            return None
        return Grouping(tuple(tuple(bits(group)) for group in best.groups()), best.cost, proven)

    def _all_together(self, nothing: Step, limit: int | None, later: int) -> Grouping | None:
        """All layers in one operation where that is legal: two groups always take more closings."""
        if any(self.apart) or self._blend(self._all) is None:
            return None
        step = self._before(self._all, nothing, limit, later)
        return None if step is None else Grouping((tuple(bits(self._all)),), step.cost, True)

    def _kept(self, level: list[Step]) -> list[Step]:
        ranked = sorted(level, key=lambda step: (step.cost, -step.laid))
        return ranked if len(self._parts) <= EXACT else ranked[: max(1, BEAM // len(self._parts))]

    def _before(self, group: int, rest: Step, limit: int | None, later: int) -> Step | None:
        """One operation, with its repress, before what `rest` lays; None where that is not legal."""
        mixed = self._blend(group)
        assert mixed is not None
        below = self._all & ~(group | rest.laid)
        stands, reheats = self._standing(below)
        repressed = mixed.again is not None
        follow = rest.cost[0] + repressed + later
        if (mixed.reheats is not None and mixed.reheats < follow) or (reheats is not None and reheats <= follow):
            return None
        again = repressed or bool(rest.laid & self._place[group.bit_length() - 1])
        dwell = mixed.dwell_where(again)
        limit = least((limit, stands))
        width = _width(mixed.temperature.lo, mixed.temperature.hi, limit)
        if dwell is None or width < 0:
            return None
        operations, total, narrow = rest.cost
        cost = (operations + 1, total + dwell.lo, narrow - width)
        if mixed.again is not None and mixed.again_at is not None:
            width = _width(mixed.again_at.lo, mixed.again_at.hi, limit)
            if width < 0:
                return None
            cost = (cost[0] + 1, cost[1] + mixed.again.lo, cost[2] - width)
        return Step(cost, group | rest.laid, group, rest)

    def _groups_before(self, laid: int) -> tuple[list[int], bool]:
        """Groups that may come right before `laid`, and whether these are all there are."""
        free = sum(1 << i for i in bits(self._all & ~laid) if not self._parts[i].over & ~laid)
        if free not in self._choices:
            every = self._shareable(free, None if len(self._parts) <= EXACT else GROUPS)
            self._choices[free] = (self._grown(free), False) if every is None else (every, True)
        return self._choices[free]

    def _shareable(self, free: int, at_most: int | None) -> list[int] | None:
        """All groups of free layers that can share an operation; None where there are too many."""
        found: list[int] = []
        stack = [(0, free)]
        while stack:
            group, candidates = stack.pop()
            for i in bits(candidates):
                candidates &= ~(1 << i)
                grown = group | 1 << i
                if self._blend(grown) is None:
                    continue
                found.append(grown)
                if at_most is not None and len(found) > at_most:
                    return None
                stack.append((grown, candidates & ~self.apart[i]))
        return found

    def _grown(self, free: int) -> list[int]:
        """Every free layer with what must share its operation, alone and with as many others as will."""
        found: dict[int, None] = {}
        ways = [list(bits(free)), list(bits(free))[::-1]]
        for seed in bits(free):
            core = self._with_bound(seed, free)
            if core is not None:
                for way in ways:
                    found[self._grow(core, way)] = None
                found[core] = None
        return list(found)

    def _grow(self, group: int, way: Sequence[int]) -> int:
        kinds = self._kinds_in(group)
        for i in way:
            if not group >> i & 1 and not self.apart[i] & group and self._mix(kinds | self._kind[i]) is not None:
                group |= 1 << i
                kinds |= self._kind[i]
        return group

    def _with_bound(self, seed: int, free: int) -> int | None:
        """The layer and all that would not stand its heat later on, or None where they cannot share."""
        group = 1 << seed
        while True:
            mixed = self._blend(group)
            if mixed is None:
                return None
            lo = mixed.temperature.lo
            missing = [i for i in bits(free & ~group) if self._parts[i].demand.spoilt_at(lo)]
            if not missing:
                return group
            group |= 1 << missing[0]
            if self.apart[missing[0]] & group:
                return None

    def _kept_apart(self, i: int) -> int:
        one = self._parts[i]
        mask = one.apart
        for j, other in enumerate(self._parts):
            pair = 1 << i | 1 << j
            geometry = other.place != one.place or one.over >> j & 1 or other.over >> i & 1 or other.apart >> i & 1
            if j != i and (geometry or self._blend(pair) is None):
                mask |= 1 << j
        return mask

    def _blend(self, group: int) -> Blend | None:
        if group not in self._blends:
            self._blends[group] = self._mix(self._kinds_in(group))
        return self._blends[group]

    def _kinds_in(self, group: int) -> int:
        kinds = 0
        for i in bits(group):
            kinds |= self._kind[i]
        return kinds

    def _mix(self, kinds: int) -> Blend | None:
        if kinds not in self._mixes:
            self._mixes[kinds] = blend([self._kinds[k] for k in bits(kinds)], self._room, self._late)
        return self._mixes[kinds]

    def _standing(self, laid: int) -> tuple[int | None, int | None]:
        """The least reheat_max and the fewest reheats of a set of layers."""
        if laid not in self._stands:
            films = [self._parts[i].demand for i in bits(laid)]
            self._stands[laid] = (least(f.reheat_max for f in films), least(f.reheats for f in films))
        return self._stands[laid]


def _width(lo: int, hi: int | None, limit: int | None) -> int:
    """Degrees from the lowest to the highest set-point within a limit; negative: none."""
    assert hi is not None
    return (hi if limit is None else min(hi, limit)) - lo


def _better(step: Step, held: Step) -> bool:
    """Lower cost; where it is the same, lower layers earlier."""
    return step.cost < held.cost or (step.cost == held.cost and step.positions() < held.positions())
