"""Weighted tardiness on one machine: one press, an order a job, due times and priorities.

Source: OR-Library wt40 (J. E. Beasley; Crauwels, Potts and Van Wassenhove 1998), data/wt40. Values from
wtopt40.txt; number 19 is best known only.
"""

from __future__ import annotations

import pytest

from scheduler.breakdown import break_down
from scheduler.planning import plan_day
from scheduler.solving.late_bound import late_bound
from scheduler.solving.least import least_operations
from tests.reference.days import Tardiness, wt40
from tests.scheduler.days import instance_of

ALL = wt40()
LONG = pytest.mark.thorough
QUICK_TO_PROVE = [28, 51, 76, *(pytest.param(n, marks=LONG) for n in (26, 27, 29, 30, 52, 53, 54, 55, 77, 78, 79, 80))]


def bound(instance: Tardiness, effort: float) -> float:
    """The late bound of an instance, with so much deterministic time."""
    made = instance.day()
    return late_bound(instance_of(made), least_operations(made, break_down(made)), effort)


def test_the_file_holds_125_instances_of_40_jobs() -> None:
    """Every instance is read whole: 40 processing times of 1 to 100, 40 weights of 1 to 10, 40 due times."""
    assert len(ALL) == 125
    for instance in ALL:
        assert all(1 <= p <= 100 for p in instance.seconds) and len(instance.seconds) == 40
        assert all(1 <= w <= 10 for w in instance.weights) and len(instance.weights) == 40
        assert len(instance.due) == 40


@pytest.mark.parametrize("number", QUICK_TO_PROVE)
def test_quick_to_prove_instances_reach_their_optimum(number: int) -> None:
    """The late time planned is the published optimum, and so is the bound that proves it."""
    instance = ALL[number - 1]
    goals = plan_day(instance.day(), "thorough").plan.goals
    assert round(goals.late_min * 60) == instance.value
    assert goals.late_bound * 60 == pytest.approx(instance.value, abs=0.6)


@LONG
def test_number_82_reaches_its_optimum() -> None:
    """Its proof takes longer than a thorough plan gives the bound, its 172 do not."""
    goals = plan_day(ALL[81].day(), "thorough").plan.goals
    assert round(goals.late_min * 60) == ALL[81].value == 172
    assert goals.late_bound <= goals.late_min


@pytest.mark.parametrize("number", [5, 19, 42, 60, 90, 125])
def test_a_late_bound_is_never_above_the_best_known(number: int) -> None:
    """What no plan can beat is at most what somebody has reached: six instances of differing kinds."""
    assert bound(ALL[number - 1], 0.02) <= ALL[number - 1].value


@LONG
def test_no_late_bound_of_all_125_is_above_the_best_known() -> None:
    """The same for every instance."""
    assert not [i.number for i in ALL if bound(i, 0.05) > i.value]


@pytest.mark.parametrize("number", [96, pytest.param(1, marks=LONG), pytest.param(33, marks=LONG)])
def test_a_plan_is_never_better_than_the_optimum(number: int) -> None:
    """A value below the proven optimum would be a fault in the reckoning."""
    instance = ALL[number - 1]
    late = plan_day(instance.day(), "quick").plan.goals.late_min * 60
    assert late >= instance.value - 0.5
