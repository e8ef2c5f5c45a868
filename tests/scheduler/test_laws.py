"""Metamorphic laws: what must not change when a day is written differently, and what cannot get worse with more.

The best value there is obeys them. A quick plan is a heuristic: names, dates and units must not sway it all the same,
the order of rows may (it breaks ties), and more presses may lead it astray. So where a plan's own value could
differ by right, what is compared is what is proven: no bound with more may be above what was reached with less. On
days of up to seven bundles the proven optima themselves are compared.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scheduler.audit import audit_rows
from scheduler.planning import Planned, plan_day
from tests.reference.little import Everything, Job, Little, Machine
from tests.reference.little import drawn as little_drawn
from tests.scheduler.laws import MORE, SAME, Written, drawn

LONG = pytest.mark.thorough
EXACT = ("renamed", "shifted", "metric")  # what a plan is blind to
seeds = st.integers(0, 10_000)
FEW = settings(max_examples=5, deadline=None, derandomize=True)
MANY = settings(max_examples=120, deadline=None, derandomize=True)

Change = Callable[[Written], Written]


@cache
def planned(seed: int, change: str = "", effort: str = "quick") -> Planned:
    """The plan of a drawn day, written differently or with more where a change is named."""
    written = drawn(seed)
    how: Change = (SAME | MORE)[change] if change else Written.copy
    return plan_day(how(written).day(), effort)  # type: ignore[arg-type]


def value(made: Planned) -> tuple[float, float]:
    """Both goals, minutes."""
    return made.plan.goals.late_min, made.plan.goals.work_min


def bounds_hold(less: Planned, more: Planned) -> bool:
    """What cannot be beaten with more is not above what was reached with less, for either goal."""
    late, work = value(less)
    goals = more.plan.goals
    return goals.late_bound <= late + 0.01 and goals.work_bound <= work + 0.01


def same(change: str, seed: int) -> None:
    """One law of sameness on one day."""
    first, second = planned(seed), planned(seed, change)
    assert audit_rows(second.day, second.rows) == []
    if change in EXACT:
        assert value(first) == value(second)
    assert bounds_hold(first, second) and bounds_hold(second, first)


def more(change: str, seed: int) -> None:
    """One law of more on one day."""
    assert bounds_hold(planned(seed), planned(seed, change))


@pytest.mark.parametrize("change", SAME)
@FEW
@given(seeds)
def test_written_differently_a_day_is_worth_the_same(change: str, seed: int) -> None:
    """Other names, a week later, in Celsius and centimetres: the same value; rows turned round: the same bounds."""
    same(change, seed)


@LONG
@pytest.mark.parametrize("change", SAME)
@MANY
@given(seeds)
def test_written_differently_many_days_are_worth_the_same(change: str, seed: int) -> None:
    """The same on more days."""
    same(change, seed)


@pytest.mark.parametrize("change", MORE)
@FEW
@given(seeds)
def test_with_more_a_day_is_worth_no_less(change: str, seed: int) -> None:
    """Faster presses, another person, wider windows, later due times, another press: no bound rises above a value."""
    more(change, seed)


@LONG
@pytest.mark.parametrize("change", MORE)
@MANY
@given(seeds)
def test_with_more_many_days_are_worth_no_less(change: str, seed: int) -> None:
    """The same on more days."""
    more(change, seed)


@LONG
@pytest.mark.parametrize("seed", range(20))
def test_at_normal_effort_a_plan_itself_is_no_worse_with_more(seed: int) -> None:
    """With more thought the plans too obey, to a hundredth: never later, and no dearer."""
    late, work = value(planned(seed, "", "normal"))
    for change in MORE:
        richer = value(planned(seed, change, "normal"))
        assert richer[0] <= late
        assert richer[0] < late or richer[1] <= 1.01 * work


def least(little: Little) -> tuple[float, float]:
    """The proven optimum of a little day."""
    return Everything(little).best()


def quicker(little: Little) -> Little:
    """Presses that heat and cool twice as fast."""
    return replace(little, machines=tuple(replace(m, up=2 * m.up, down=2 * m.down) for m in little.machines))


def put_off(little: Little) -> Little:
    """Due times five minutes later."""
    jobs = tuple(replace(job, due=None if job.due is None else job.due + 300) for job in little.jobs)
    return replace(little, jobs=jobs)


def one_more(little: Little) -> Little:
    """One more press like the first, with somebody at it."""
    return replace(little, machines=(*little.machines, little.machines[0]))


def sooner(little: Little) -> Little:
    """Blanks that are there at once."""
    return replace(little, jobs=tuple(replace(job, ready=0) for job in little.jobs))


@pytest.mark.parametrize("change", [quicker, put_off, one_more, sooner], ids=lambda f: f.__name__)
@pytest.mark.parametrize("seed", [300, 301, 302, *(pytest.param(s, marks=LONG) for s in range(303, 330))])
def test_the_best_of_a_little_day_is_no_worse_with_more(change: Callable[[Little], Little], seed: int) -> None:
    """Proven optima are compared, and what the planner says cannot be beaten is not above them."""
    little = little_drawn(random.Random(seed), most=5)
    richer = change(little)
    assert least(richer) <= least(little)
    goals = plan_day(richer.day(), "quick").plan.goals
    assert 60 * goals.late_bound <= least(richer)[0] + 0.6
    assert (60 * goals.late_min, 60 * goals.work_min) >= (least(richer)[0] - 0.6, 0)


@pytest.mark.parametrize("change", [quicker, put_off, one_more], ids=lambda f: f.__name__)
def test_a_plan_of_a_little_day_is_no_worse_with_more(change: Callable[[Little], Little]) -> None:
    """Three jobs in two heats with due times: the plan is the optimum before and after."""
    jobs = (Job(((60, 300),), due=60), Job(((90, 325),), due=200, priority=2), Job(((240, 300),), due=400))
    little = Little(jobs, (Machine(),))
    for each in (little, change(little)):
        goals = plan_day(each.day(), "normal").plan.goals
        assert (60 * goals.late_min, 60 * goals.work_min) == pytest.approx(least(each), abs=0.6)
    assert least(change(little)) <= least(little)
