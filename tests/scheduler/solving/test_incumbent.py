"""By the clock other manners of serving take no more of it than they may; the best gets its turn in them."""

from __future__ import annotations

from collections import Counter
from typing import Any

import pytest

from scheduler.solving import incumbent
from scheduler.solving.incumbent import Incumbent, Leisure, programme_of
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


def test_without_leisure_one_manner_is_played_and_the_rest_is_owed(counted: Counter[Any]) -> None:
    """Once there is time, whatever is played next, the best is played in all the others."""
    view = View.of(instance_of(days.named("d60").day), 30)
    none = Leisure(0.0)
    none.spent = 1.0
    best = Incumbent(leisure=none)
    first, other = (programme_of(view.settings, view.work, s) for s in (view.first[0], view.first[-1]))
    assert first != other
    best.play("seed", view.instance, first)
    assert counted == {first: 1}
    assert best.owed is not None
    before = best.value
    best.leisure = Leisure(1.0)
    best.play("seed", view.instance, other)
    assert best.owed is None
    assert best.value <= before
    owed = first if counted[first] > 1 else other  # the better of the two
    assert counted[owed] == len(MANNERS)


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
