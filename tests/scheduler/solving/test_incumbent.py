"""The best gets its turn in every manner of serving; by the clock they take no more of it than they may."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from typing import Any

import pytest

from scheduler.solving import incumbent
from scheduler.solving.incumbent import Incumbent, Leisure, Near, programme_of
from scheduler.solving.view import View
from scheduler.timetable.manner import MANNERS
from tests.bench import days
from tests.scheduler.days import instance_of, random_day


@pytest.fixture
def counted(monkeypatch: pytest.MonkeyPatch) -> Counter[Any]:
    """How often each programme is dispatched."""
    seen: Counter[Any] = Counter()
    play = incumbent.dispatch

    def dispatch(instance: Any, plan: Any, manner: Any) -> Any:
        seen[plan] += 1
        return play(instance, plan, manner)

    monkeypatch.setattr(incumbent, "dispatch", dispatch)
    return seen


def two_plans() -> tuple[View, Any, Any]:
    """A day of more than a hundred loadings, and two of its programmes."""
    view = View.of(instance_of(days.named("d250").day), 30)
    first, other = (programme_of(view.settings, view.work, s) for s in (view.first[0], view.first[-1]))
    assert view.loads > 100
    assert first != other
    return view, first, other


def test_without_leisure_one_manner_is_played_and_the_rest_is_owed(counted: Counter[Any]) -> None:
    """Once there is time, whatever is played next, the best is played in all the others."""
    view, first, other = two_plans()
    none = Leisure(0.0)
    none.spent = 1.0
    best = Incumbent(leisure=none)
    best.play("seed", view.instance, first)
    best.settle("served otherwise")
    assert counted == {first: 1}
    before = best.value
    best.leisure = Leisure(1.0)
    best.play("seed", view.instance, other)
    assert best.value <= before
    assert counted[best.programme] == len(MANNERS)


def test_by_effort_the_best_is_played_in_all_when_a_search_ends(counted: Counter[Any]) -> None:
    """What is near it too, each once; until then everything is played in one manner."""
    view, first, other = two_plans()
    best = Incumbent()
    for plan in (first, other):
        best.play("search", view.instance, plan)
    assert counted == {first: 1, other: 1}
    assert best.near is not None
    owed = {best.programme, best.near.programme}
    before = best.value
    best.settle("served otherwise")
    assert best.value <= before
    assert all(counted[plan] == len(MANNERS) for plan in owed)
    best.settle("served otherwise")
    assert counted.total() == len(MANNERS) * len(owed) + 2 - len(owed)


def test_what_is_near_the_best_is_served_otherwise_too(counted: Counter[Any]) -> None:
    """A plan that a manner makes late may be in time in another, for less work than the best has."""
    view, first, other = two_plans()
    best = Incumbent()
    best.play("search", view.instance, first)
    assert best.table is not None
    late = replace(best.table, late=60.0, work=best.table.work - 600)
    best.near = Near(view.instance, other, MANNERS[0], late)
    best.settle("served otherwise")
    assert counted == {first: len(MANNERS), other: len(MANNERS) - 1}


def test_without_a_clock_the_best_is_played_in_all(counted: Counter[Any]) -> None:
    """As often as there are manners, for a first plan is the best there is."""
    view = View.of(instance_of(random_day(3)), 30)
    plan = programme_of(view.settings, view.work, view.first[0])
    best = Incumbent()
    table = best.play("seed", view.instance, plan)
    assert counted == {plan: len(MANNERS)}
    assert best.play("climb", view.instance, plan) is best.play("search", view.instance, plan, alone=True) is table
    assert counted == {plan: len(MANNERS)}  # what was played in all is not played again


def test_what_was_played_in_one_manner_is_played_again_where_all_are_asked_for(counted: Counter[Any]) -> None:
    """A search plays what is not the best in one manner; where it is asked for again, that will not do."""
    view = View.of(instance_of(random_day(3)), 30)
    plan = programme_of(view.settings, view.work, view.first[0])
    best = Incumbent()
    best.play("seed", view.instance, plan)
    best.seen.clear()
    best.play("search", view.instance, plan, alone=True)
    assert counted == {plan: len(MANNERS) + 1}
    best.play("climb", view.instance, plan)
    assert counted == {plan: 2 * len(MANNERS) + 1}


def test_leisure_is_a_share_of_the_time() -> None:
    """What has taken more than its share waits."""
    leisure = Leisure(0.5)
    assert leisure.left
    leisure.began -= 10
    leisure.spent = 4.0
    assert leisure.left
    leisure.spent = 6.0
    assert not leisure.left
    before = leisure.spent
    leisure.spend(lambda: sum(range(1000)))
    assert leisure.spent > before
