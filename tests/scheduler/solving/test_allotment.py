"""The ordered problem's own plan: everything has its place, presses keep their settings, and it can be played."""

from __future__ import annotations

from collections import Counter

import pytest

from models.day import Day
from scheduler.breakdown import break_down
from scheduler.instance import Instance
from scheduler.solving.allotment import allotments
from scheduler.solving.chains import default_chains
from scheduler.solving.efforts import EFFORTS
from scheduler.solving.incumbent import Incumbent
from scheduler.solving.paces import Rhythms
from scheduler.solving.solve import solve
from scheduler.solving.view import View
from tests.bench import days
from tests.scheduler.breakdown.days import PRESS, film, pile
from tests.scheduler.days import day

EFFORT = 2.0  # deterministic seconds
KNOWN = 60_000.0  # seconds: all of a day


def instance_of(made: Day) -> Instance:
    routes = break_down(made)
    return Instance(made, default_chains(made, routes))


def two_films(orders: int) -> Day:
    """Lines in turn of two films whose windows have nothing in common, in a shop of two presses."""
    return day(
        films=[film("cool", temperature=[250, 260]), film("warm", temperature=[320, 330])],
        designs={name: {"front": [pile(name)]} for name in ("cool", "warm")},
        orders=[(("cool", "warm")[n % 2], 6) for n in range(orders)],
        presses=[PRESS, {**PRESS, "id": "door"}],
        people=[{"id": "ada"}, {"id": "bo"}],
    )


def test_two_films_and_two_presses_need_no_change() -> None:
    """Each press takes one film, whatever order the lines come in."""
    made = two_films(6)
    instance = instance_of(made)
    (cheapest, *_) = allotments(instance, break_down(made), KNOWN, EFFORT)
    presses = [{p.press for p in places} for _, places in sorted(cheapest.places.items())]
    assert presses[0] != presses[1]
    assert presses == presses[:2] * 3
    assert all(len(mine) == 1 for mine in presses)


@pytest.mark.parametrize("name", ["d60", "d250", "d500"])
def test_every_piece_of_every_operation_has_a_place_where_it_fits(name: str) -> None:
    """Pieces are counted against the lines; the presses are those that take the operation."""
    made = days.named(name, 0).day
    instance = instance_of(made)
    found = allotments(instance, break_down(made), KNOWN, EFFORT)
    assert found
    for allotment in found:
        for task in instance.tasks:
            for step in task.steps:
                places = allotment.places[task.line, task.placement, step.operation.number]
                assert sum(place.pieces for place in places) == instance.quantity(task.line)
                assert [place.key for place in places] == sorted(place.key for place in places)
        assert len(allotment.places) == len(
            {(t.line, t.placement, s.operation.number) for t in instance.tasks for s in t.steps}
        )


@pytest.mark.parametrize("name", ["d60", "d250", "d500"])
def test_it_can_be_played_with_every_job_once(name: str) -> None:
    """As sequences of a view's jobs, and the dispatch leaves nothing of it undone."""
    made = days.named(name, 1).day
    instance = instance_of(made)
    here = View.of(instance, 50)
    found = allotments(instance, break_down(made), KNOWN, EFFORT)
    assert found
    views = [here, *(View.at(Instance(made, a.chains), 50, Rhythms(), a.places) for a in found)]
    for view, allotment in zip(views, [found[0], *found], strict=True):
        assert view is not None
        sequences = view.placed(allotment.places)
        assert sequences is not None
        assert Counter(j for jobs in sequences for j in jobs) == Counter(range(len(view.work.jobs)))
        table = view.play(Incumbent(), "ordered problem", sequences)
        assert table.value[0] == 0
        played = view.instance
        assert sum(len(x.pieces) for x in table.loadings) == sum(played.quantity(t.line) for t in played.tasks)


def test_a_day_on_which_the_shop_opens_twice_has_none() -> None:
    """The ordered problem knows one opening only."""
    made = days.named("d5000", 0).day
    assert allotments(instance_of(made), break_down(made), 4 * 86_400.0, EFFORT) == []


def test_it_is_one_of_the_plans_tried() -> None:
    """On the first day of 500 pieces it needs no change of setting, and the quick answer is as good at the least."""
    made = days.named("d500", 0).day
    instance = instance_of(made)
    view, best = View.of(instance, 50), Incumbent()
    (cheapest, *_) = allotments(instance, break_down(made), KNOWN, EFFORT)
    sequences = view.placed(cheapest.places)
    assert sequences is not None
    table = view.play(best, "ordered problem", sequences)
    assert table.value[:2] == (0, 0)
    assert table.change_count == 0
    answer = solve(made, break_down(made), EFFORTS["quick"]).table
    assert answer.value[:2] == (0, 0)
    assert answer.work <= 1.02 * table.work
