"""Flexible job shops whose times do not depend on the machine (as Hurink, Jurisch and Thole 1994 have them).

Their published instances are not at hand, so ours are ft06 (Muth and Thompson 1963) with more machines for a step, and
the optimum is what PyJobShop (MIT) proves; without it the bound is checked against what the classic machines give.
"""

from __future__ import annotations

from typing import Any

import pytest

from scheduler.breakdown import break_down
from scheduler.planning import plan_day
from tests.reference.days import flexible_shop, shop_instance

MACHINES, MINUTES, CLASSIC = shop_instance("ft06")
LONG = pytest.mark.thorough


def choices(every: int) -> list[list[list[int]]]:
    """ft06's machines, and for every so manyth step of a job the next machine too."""
    return [
        [[m, (m + 1) % 6] if (job + step) % every == 0 else [m] for step, m in enumerate(visits)]
        for job, visits in enumerate(MACHINES)
    ]


def library(eligible: list[list[list[int]]], minutes: list[list[int]]) -> int:
    """The least makespan, proven by PyJobShop."""
    pyjobshop: Any = pytest.importorskip("pyjobshop", reason="PyJobShop is not installed (extra: test)")
    model = pyjobshop.Model()
    machines = [model.add_machine() for _ in range(6)]
    for choice, times in zip(eligible, minutes, strict=True):
        job, before = model.add_job(), None
        for some, p in zip(choice, times, strict=True):
            task = model.add_task(job)
            for m in some:
                model.add_mode(task, [machines[m]], p)
            if before is not None:
                model.add_end_before_start(before, task)
            before = task
    model.set_objective(weight_makespan=1)
    result = model.solve(time_limit=60, num_workers=2, display=False)
    assert result.status.value == "Optimal"
    return round(result.objective)


def test_the_only_legal_route_is_the_jobs_own() -> None:
    """Films that stand so many later pressings and no more force each job's order of steps."""
    for (_, design), routes in break_down(flexible_shop(choices(2), MINUTES, 6)).items():
        job = int(design.removeprefix("job"))
        assert [[op.placement for op in r.operations] for r in routes] == [[f"j{job}s{k}" for k in range(6)]]


def test_without_choice_it_is_the_job_shop() -> None:
    """One machine for every step: ft06 itself, 55."""
    goals = plan_day(flexible_shop(choices(100), MINUTES, 6), "quick").plan.goals
    assert goals.work_bound <= CLASSIC <= goals.work_min


@pytest.mark.parametrize("every", [2, 3])
def test_no_bound_is_above_what_a_library_proves(every: int) -> None:
    """The work bound is at most the optimum, a quick plan at least and within a quarter of it."""
    optimum = library(choices(every), MINUTES)
    goals = plan_day(flexible_shop(choices(every), MINUTES, 6), "quick").plan.goals
    assert goals.work_bound <= optimum <= goals.work_min <= 1.25 * optimum


@LONG
@pytest.mark.parametrize("every", [2, 3])
def test_a_plan_is_the_optimum(every: int) -> None:
    """What the library proves is reached through the whole road, by the better of two seeds."""
    made = flexible_shop(choices(every), MINUTES, 6)
    plans = [plan_day(made, "normal", seed=seed) for seed in (0, 1)]
    assert min(planned.plan.goals.work_min for planned in plans) == library(choices(every), MINUTES)


@LONG
def test_thorough_is_no_worse_than_normal() -> None:
    """More effort never gives a worse plan (contract 5)."""
    made = flexible_shop(choices(2), MINUTES, 6)
    normal, thorough = (plan_day(made, effort).plan.goals.work_min for effort in ("normal", "thorough"))
    assert thorough <= normal
