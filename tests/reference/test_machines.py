"""Identical parallel machines: presses that are alike, jobs that are one loading each.

Source of the examples: Graham (1969), Bounds on multiprocessing timing anomalies, SIAM Journal on Applied
Mathematics 17; data/WORKED.md.
"""

from __future__ import annotations

import pytest

from scheduler.planning import plan_day
from scheduler.timetable.dispatch import dispatch
from tests.reference.days import machines
from tests.scheduler.days import faults, instance_of, programmes

GRAHAM = [([4, 5, 6, 7, 8], 2, 15), ([5, 5, 4, 4, 3, 3, 3], 3, 9)]


@pytest.mark.parametrize(("minutes", "count", "optimum"), GRAHAM)
def test_grahams_examples_reach_their_optimum(minutes: list[int], count: int, optimum: int) -> None:
    """Longest-first gives 17 and 11; the plan ends at 15 and 9, and says that it is proven."""
    plan = plan_day(machines([60 * m for m in minutes], count), "normal").plan
    assert plan.goals.work_min == optimum
    assert plan.goals.work_bound == optimum
    assert plan.status == "optimal"


@pytest.mark.parametrize(("minutes", "count", "optimum"), GRAHAM)
def test_the_bound_does_not_pass_the_optimum(minutes: list[int], count: int, optimum: int) -> None:
    """Also where little thought is given, the bound is no more than what is known to be possible."""
    assert plan_day(machines([60 * m for m in minutes], count), "quick").plan.goals.work_bound <= optimum


@pytest.mark.parametrize(("minutes", "count", "optimum"), GRAHAM)
def test_every_seed_keeps_grahams_bound(minutes: list[int], count: int, optimum: int) -> None:
    """A press that is free takes the next job: within 2 - 1/m of the optimum (Graham 1966)."""
    instance = instance_of(machines([60 * m for m in minutes], count))
    for plan in programmes(instance):
        table = dispatch(instance, plan)
        assert not faults(instance, table)
        assert table.finish / 60 <= (2 - 1 / count) * optimum
