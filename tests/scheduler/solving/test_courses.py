"""Which way each line goes in a solution of the ordered problem: it saves changes, it is legal, and it contradicts the
solution least."""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Mapping, Sequence

import pytest

from models.day import Day
from models.operation import Route
from scheduler.breakdown import break_down, check_fits, loading_window
from scheduler.instance import Chain, Instance
from scheduler.solving.allotment import Allotment, allotments
from scheduler.solving.bundles import Place
from scheduler.solving.chains import default_chains
from scheduler.solving.courses import courses
from scheduler.solving.efforts import EFFORTS
from scheduler.solving.loads import least_parts
from scheduler.solving.solve import solve
from scheduler.solving.stretches import Taken
from scheduler.solving.view import Operation
from tests.bench import days
from tests.scheduler.breakdown.days import film, pile
from tests.scheduler.days import day

EFFORT = 2.0  # deterministic seconds
KNOWN = 60_000.0  # seconds: all of a day

Opened = Mapping[Operation, Sequence[Place]]


def crossed() -> Day:
    """One press and two films whose windows have nothing in common, in front on one design and behind on the other: as
    it is written two changes are needed (cool, warm, cool), with one design's back pressed first one."""
    return day(
        films=[film("cool", temperature=[250, 260]), film("warm", temperature=[320, 330])],
        designs={
            "a": {"front": [pile("cool")], "back": [pile("warm")]},
            "b": {"front": [pile("warm")], "back": [pile("cool")]},
        },
        orders=[("a", 8), ("b", 8)],
    )


def found(made: Day) -> list[Allotment]:
    routes = check_fits(made, break_down(made))
    return allotments(Instance(made, default_chains(made, routes)), routes, KNOWN, EFFORT)


def places_of(chain: Chain) -> list[str]:
    return [group[0].placement for group in chain.groups]


def test_placements_are_pressed_in_the_order_that_saves_a_change() -> None:
    """Counted by hand: two windows apart and one press, so one change at the least."""
    (cheapest, *_) = found(crossed())
    ways = [places_of(chain) for chain in cheapest.chains]
    assert ways in ([["front", "back"], ["back", "front"]], [["back", "front"], ["front", "back"]])


@pytest.mark.parametrize("effort", ["quick", "normal"])
def test_the_plan_goes_that_way(effort: str) -> None:
    """One change, and not the two of the written order."""
    made = crossed()
    table = solve(made, break_down(made), EFFORTS[effort]).table  # type: ignore[index]
    assert table.value[:2] == (0, 0)
    assert table.change_count == 1


@pytest.mark.parametrize("name", ["d60", "d250", "d500"])
@pytest.mark.parametrize("seed", [0, 1])
def test_every_way_is_a_legal_one(name: str, seed: int) -> None:
    """Each operation of one of the line's routes is in one loading, in order, and some press takes the loading."""
    made = days.named(name, seed).day
    routes = check_fits(made, break_down(made))
    for allotment in found(made):
        for line, chain in zip(made.lines, allotment.chains, strict=True):
            assert chain.route in routes[line.garment, line.design]
            assert tuple(op for group in chain.groups for op in group) == chain.route.operations
            for group in chain.groups:
                assert any(loading_window(made, chain.route, group, press) is not None for press in made.presses)


def against(line: int, route: Route, opened: Opened) -> int:
    """Seconds by which pieces lie in a later stretch than in the operation after, counted piece by piece."""
    seconds = 0
    for one, other in itertools.pairwise(route.operations):
        early, late = (
            sorted(p.key for p in opened[line, op.placement, op.number] for _ in range(p.pieces)) for op in (one, other)
        )
        seconds += sum(a - b for a, b in zip(early, late, strict=True) if a > b)
    return seconds


def test_no_other_route_contradicts_the_solution_less() -> None:
    """Stretches written out: all that is cool at 0 s, all that is warm at 3,600 s, and the other way round."""
    made = crossed()
    routes = check_fits(made, break_down(made))
    instance = Instance(made, default_chains(made, routes))
    parts = least_parts(instance, routes)
    for cool, warm in ((0, 3600), (3600, 0)):
        taken, opened = [], dict[Operation, list[Place]]()
        for number, part in enumerate(parts):
            (run,) = part.runs
            opens = cool if run.fits[0].lo == 250 else warm
            taken.append(Taken(number, run, 0, opens, part.pieces, 1.0))
            for line in part.lines:
                opened[line, part.placement, 1] = [Place(opens, 0, part.pieces)]
        chains = courses(made, routes, parts, taken, opened)
        for number, (line, chain) in enumerate(zip(made.lines, chains, strict=True)):
            ways = routes[line.garment, line.design]
            assert len(ways) == 2
            assert against(number, chain.route, opened) == 0 < max(against(number, way, opened) for way in ways)


def test_loadings_are_cut_as_most_pieces_are() -> None:
    """A placement of two operations that one press takes together: by most of its pieces in the solution."""
    made = days.named("d500", 1).day
    routes = check_fits(made, break_down(made))
    parts = least_parts(Instance(made, default_chains(made, routes)), routes)
    number, part = next((n, p) for n, p in enumerate(parts) if any(run.first == 0 and run.last == 1 for run in p.runs))
    both = next(run for run in part.runs if (run.first, run.last) == (0, 1))
    single = [next(run for run in part.runs if (run.first, run.last) == (n, n)) for n in (0, 1)]
    few = part.pieces // 4
    for shared, apart in ((part.pieces - few, few), (few, part.pieces - few)):
        taken = [Taken(number, both, next(iter(both.fits)), 0, shared, 1.0)]
        taken += [Taken(number, run, next(iter(run.fits)), 0, apart, 1.0) for run in single]
        opened = {
            (line, p.placement, op + 1): [Place(0, 0, made.lines[line].quantity)]
            for p in parts
            for op in range(p.operations)
            for line in p.lines
        }
        whole = [
            Taken(n, run, next(iter(run.fits)), 0, p.pieces, 1.0)
            for n, p in enumerate(parts)
            if n != number
            for run in p.runs
            if run.first == run.last
        ]
        chain = courses(made, routes, parts, [*taken, *whole], opened)[part.lines[0]]
        cut = Counter(len(group) for group in chain.groups if group[0].placement == part.placement)
        assert cut == (Counter([2]) if shared > apart else Counter([1, 1])) + Counter([1] * (part.operations - 2))
