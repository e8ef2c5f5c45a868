"""Job shop: a machine is a press that takes one placement, a job a garment with placements in a forced order.

Source: ft06 and ft10, Muth and Thompson (1963), optima 55 and 930; la01, la02, la06 and la11, Lawrence (1984), optima
666, 655, 926 and 1222; data/shop_small/jsp.json.
"""

from __future__ import annotations

import pytest

from models.day import Day
from scheduler.breakdown import break_down
from scheduler.planning import plan_day
from scheduler.solving.model import Answer, CampaignModel, Effort, Free
from scheduler.solving.view import View
from tests.reference.days import job_shop, shop_instance
from tests.scheduler.days import instance_of

JOBS, MINUTES, OPTIMUM = shop_instance("ft06")
LONG = pytest.mark.thorough


@pytest.fixture(scope="module")
def ft06() -> Day:
    """ft06 as a day; a time unit is a minute."""
    return job_shop(JOBS, MINUTES)


def solved(made: Day, effort: float) -> Answer:
    """The campaign model of the whole day with every job free, at the paces of hands that are always there."""
    view = View.of(instance_of(made), 200)
    paces = [{press: cycle[0] for press, cycle in cycles.items()} for cycles in view.estimator.cycle]
    free = Free(frozenset(range(len(view.work.jobs))))
    return CampaignModel(view.instance, view.work, view.settings, view.estimator, paces, view.sequences, free).solve(
        Effort(effort)
    )


def test_the_only_legal_route_is_the_jobs_own(ft06: Day) -> None:
    """Films that stand so many later pressings and no more force the machines' order."""
    for (_, design), routes in break_down(ft06).items():
        job = int(design.removeprefix("job"))
        assert [[op.placement for op in route.operations] for route in routes] == [[f"at-{m}" for m in JOBS[job]]]


def test_the_campaign_model_proves_ft06(ft06: Day) -> None:
    """55, the optimum of Muth and Thompson's six by six, with its proof."""
    answer = solved(ft06, 5)
    assert answer.optimal
    assert answer.value / 600 == answer.bound / 600 == OPTIMUM == 55


@pytest.mark.parametrize("name", ["la01", *(pytest.param(n, marks=LONG) for n in ("la02", "la06", "la11", "ft10"))])
def test_the_campaign_model_proves_larger_ones(name: str) -> None:
    """The published optimum, and no bound above it: ten by five, fifteen by five, twenty by five, ten by ten."""
    machine, minutes, optimum = shop_instance(name)
    answer = solved(job_shop(machine, minutes), 60)
    assert answer.value / 600 == optimum
    assert answer.bound / 600 == optimum


@pytest.mark.parametrize("name", ["la01", *(pytest.param(n, marks=LONG) for n in ("la02", "la06", "la11", "ft10"))])
def test_no_bound_is_above_a_published_optimum(name: str) -> None:
    """A quick plan's bound is at most the optimum, and the plan at least; la01 and la06 are reached by a normal one."""
    machine, minutes, optimum = shop_instance(name)
    goals = plan_day(job_shop(machine, minutes), "normal" if name in ("la01", "la06") else "quick").plan.goals
    assert goals.work_bound <= optimum <= goals.work_min
    assert name not in ("la01", "la06") or goals.work_min == optimum


@LONG
@pytest.mark.parametrize(("name", "over"), [("la02", 1), ("la11", 0)])
def test_a_thorough_plan_reaches_a_published_optimum(name: str, over: int) -> None:
    """1222 through the whole road, to the second; 655 but for a minute, well within the gap the plan reports."""
    machine, minutes, optimum = shop_instance(name)
    goals = plan_day(job_shop(machine, minutes), "thorough").plan.goals
    assert optimum <= goals.work_min <= optimum + over
    assert goals.work_bound <= optimum


def test_the_bound_of_ft06_is_at_most_its_optimum(ft06: Day) -> None:
    """What the plan says cannot be beaten is no more than what is known to be reached; nor is the plan below it."""
    goals = plan_day(ft06, "quick").plan.goals
    assert goals.work_bound <= OPTIMUM <= goals.work_min


def test_a_plan_of_ft06_reaches_its_optimum(ft06: Day) -> None:
    """The timetable keeps what the campaign model found."""
    assert plan_day(ft06, "normal").plan.goals.work_min == OPTIMUM
