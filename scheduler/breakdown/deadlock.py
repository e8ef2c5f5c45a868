"""Why no order of pressings is legal although every film alone is: reheat_max and reheats."""

from __future__ import annotations

from collections.abc import Iterator

from models.problem import Problem
from scheduler.breakdown.faults import DESIGNS, degrees, layers_at
from scheduler.breakdown.grouping import Part, bits
from scheduler.breakdown.work import Work


def no_order(work: Work) -> list[Problem]:
    """The reasons, films and numbers named; never empty."""
    found = list(_spoilt_by_what_lies_over(work)) or list(_spoilt_by_each_other(work)) or list(_too_often(work))
    return found or [_knot(work)]


def _spoilt_by_what_lies_over(work: Work) -> Iterator[Problem]:
    """A film that must go on first and does not stand the heat of one that must come later."""
    parts = work.all_parts
    for i, low in enumerate(parts):
        for j in bits(_above(parts, i)):
            if low.demand.spoilt_at(parts[j].demand.temperature.lo):
                yield _problem(
                    work,
                    parts[j],
                    f"{_wants(work, parts[j])} and lies over layer {low.number}, whose {_stands(work, low)}",
                    "Use a film for the upper layer that is pressed cooler, or one below that stands more.",
                )


def _spoilt_by_each_other(work: Work) -> Iterator[Problem]:
    """Two films of which neither stands the heat of the other, and that cannot go down together."""
    parts = work.all_parts
    for i, one in enumerate(parts):
        for j in range(i + 1, len(parts)):
            two = parts[j]
            clash = one.demand.spoilt_at(two.demand.temperature.lo) and two.demand.spoilt_at(one.demand.temperature.lo)
            if clash and work.whole.apart[i] >> j & 1:
                yield _problem(
                    work,
                    two,
                    f"{_wants(work, two)} where {_stands(work, one)}, and {_wants(work, one)} where "
                    f"{_stands(work, two)}; they cannot go down in one pressing either",
                    "Use a film that stands the other's heat, or two that can share a pressing.",
                )


def _too_often(work: Work) -> Iterator[Problem]:
    """Films pressed more often than they stand, in the order with the fewest pressings."""
    grouping = work.without_reheats().solve()
    if grouping is None:
        return
    parts, follow = work.all_parts, grouping.operations
    order = "even in the order with the fewest" if grouping.proven else "in the best order found"
    for group in grouping.groups:
        follow -= 1
        for part in (parts[i] for i in group):
            if part.demand.reheats is not None and part.demand.reheats < follow:
                yield _problem(
                    work,
                    part,
                    f'film "{part.demand.film}" stands {part.demand.reheats} later pressings of the garment '
                    f'"{work.garment.id}", but {order} there are {follow} after it',
                    "Use fewer layers that need a pressing of their own, or a film that stands more.",
                )
        follow -= any(parts[i].demand.repress is not None for i in group)


def _knot(work: Work) -> Problem:
    """No pair is to blame: every film whose reheat_max another one passes, with that one."""
    parts = work.all_parts
    clashes = dict.fromkeys(
        f"{_stands(work, one)}, while {_wants(work, two)}"
        for one in parts
        for two in parts
        if one is not two and one.demand.spoilt_at(two.demand.temperature.lo)
    )
    kept = list(clashes) or ["too many pressings follow for what the films stand (reheats)"]
    return _problem(
        work,
        parts[0],
        f'no legal order was found for all layers on garment "{work.garment.id}": ' + "; ".join(kept),
        "Use films that stand more heat once they are on (reheat_max, reheats), or fewer layers.",
    )


def _above(parts: tuple[Part, ...], i: int) -> int:
    """All layers that come after layer i, directly or over others."""
    above, new = 0, parts[i].over
    while new & ~above:
        above |= new
        new = 0
        for j in bits(above):
            new |= parts[j].over
    return above


def _problem(work: Work, part: Part, wrong: str, right: str) -> Problem:
    where = layers_at(work.design, work.placement(part.place), [part.number])
    return Problem(DESIGNS, where, "film", f'"{part.demand.film}"', wrong, right)


def _wants(work: Work, part: Part) -> str:
    return f'film "{part.demand.film}" wants at least {degrees(work.day, part.demand.temperature.lo)}'


def _stands(work: Work, part: Part) -> str:
    assert part.demand.reheat_max is not None
    limit = degrees(work.day, part.demand.reheat_max)
    return f'film "{part.demand.film}" stands at most {limit} in a later pressing (reheat_max)'
