"""Which way each line goes in a solution of the ordered problem, which leaves the order of placements open.

Settings follow one another on a press, so the order in which a garment's placements are pressed decides how many of
them a day needs. Of the legal routes each line takes the one that contradicts the solution least, in the loadings that
most of its pieces take there.
"""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence

from models.day import Day
from models.operation import Operation, Route
from scheduler.instance import Chain, Routes
from scheduler.solving.bundles import Place
from scheduler.solving.chains import shareable
from scheduler.solving.loads import Part
from scheduler.solving.stretches import Taken
from scheduler.solving.view import Operation as Key

_Cuts = Mapping[str, Counter[tuple[int, int]]]  # of each placement, pieces by the first and last operation of a loading


def courses(
    day: Day, routes: Routes, parts: Sequence[Part], taken: Iterable[Taken], opened: Mapping[Key, Sequence[Place]]
) -> tuple[Chain, ...]:
    """Each line's chain. `opened`: each operation's places, by when the stretch of each opens, seconds."""
    cuts = [dict[str, Counter[tuple[int, int]]]() for _ in day.lines]
    for item in taken:
        part = parts[item.part]
        for line in part.lines:
            mine = cuts[line].setdefault(part.placement, Counter())
            mine[item.run.first + 1, item.run.last + 1] += item.pieces
    return tuple(
        _course(day, number, routes[line.garment, line.design], cuts[number], opened)
        for number, line in enumerate(day.lines)
    )


def _course(day: Day, line: int, routes: Sequence[Route], cuts: _Cuts, opened: Mapping[Key, Sequence[Place]]) -> Chain:
    route = min(routes, key=lambda route: _against(line, route, opened))
    groups: list[tuple[Operation, ...]] = []
    for place, operations in itertools.groupby(route.operations, key=lambda op: op.placement):
        groups += _grouped(day, route, tuple(operations), cuts[place])
    return Chain(route, tuple(groups))


def _against(line: int, route: Route, opened: Mapping[Key, Sequence[Place]]) -> int:
    """Seconds by which pieces are in later stretches than those of the operation after, piece by piece."""
    begun = [_each(opened[line, op.placement, op.number]) for op in route.operations]
    return sum(max(0, a - b) for one, other in itertools.pairwise(begun) for a, b in zip(one, other, strict=True))


def _each(places: Sequence[Place]) -> list[int]:
    return sorted(key for place in places for key in [place.key] * place.pieces)


def _grouped(
    day: Day, route: Route, operations: Sequence[Operation], cut: Counter[tuple[int, int]]
) -> list[tuple[Operation, ...]]:
    """Operations that follow each other on one placement, cut as most of the pieces are: the cuts that hold most
    pieces, an operation at a time; one by one where a loading is not legal."""
    best: list[tuple[int, list[tuple[Operation, ...]]]] = [(0, [])]
    for end in range(1, len(operations) + 1):
        ways = []
        for start in range(end):
            group = tuple(operations[start:end])
            if len(group) == 1 or shareable(day, route, group):
                held = len(group) * cut[group[0].number, group[-1].number]
                ways.append((best[start][0] + held, [*best[start][1], group]))
        best.append(max(ways, key=lambda way: (way[0], len(way[1]))))
    return best[-1][1]
