"""Rules that are optimal on one machine: one press, an order a job, hands of no length, one temperature.

Earliest due date (Jackson 1955), Moore and Hodgson's rule (Moore 1968), Smith's rule (1956), list rules as textbooks
have them. Our goal is weighted tardiness, so that the greatest lateness and the number of late jobs come in as
questions of yes or no: what due times, and how many orders with a due time, can be kept at all.
Numbers of the examples are from memory of Pinedo, Scheduling: Theory, Algorithms, and Systems, chapter 3; the rules'
answers are worked out here, and every order is tried beside them.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from datetime import timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from models.plan import GoalFigures
from scheduler.planning import plan_day
from tests.reference.days import machines
from tests.scheduler.days import START

PROCESSING, DUE = (7, 8, 4, 6, 6), (9, 17, 18, 19, 21)  # memory of Pinedo, example 3.3.3: jobs 1 and 2 are late
TARDY = ((121, 79, 147, 83, 130), (260, 266, 266, 336, 337))  # memory of example 3.4.5: total tardiness 370
WEIGHTED = ((12, 8, 15, 9), (16, 26, 25, 27), (4, 5, 3, 5))  # memory of example 3.6.3: 67
SMITH = ((3, 6, 6, 5, 4, 8, 10), (6, 18, 12, 8, 8, 17, 18))  # the jobs of example 3.1.5 without their chains
SCALE = 6  # seconds a unit of the examples lasts: minutes to the hundredth lose nothing

jobs = st.lists(st.tuples(st.integers(1, 20), st.integers(1, 60)), min_size=2, max_size=6)


def planned(
    p: Sequence[int], due: Sequence[int | None], weights: Sequence[int] = (), scale: int = SCALE
) -> GoalFigures:
    """The goals of the day with these jobs, in their units; a job without a due time is no matter."""
    fields = [
        {
            "priority": weights[n] if weights else 1,
            **({} if d is None else {"due": START + timedelta(seconds=scale * d)}),
        }
        for n, d in enumerate(due)
    ]
    return plan_day(machines([scale * x for x in p], 1, fields), "quick").plan.goals


def late(goals: GoalFigures) -> float:
    """Weighted tardiness in units of the example."""
    return goals.late_min * 60 / SCALE


def tardiness(order: Sequence[int], p: Sequence[int], due: Sequence[int], w: Sequence[int]) -> int:
    """Weighted tardiness of jobs in this order."""
    ends = itertools.accumulate(p[j] for j in order)
    return sum(w[j] * max(0, end - due[j]) for j, end in zip(order, ends, strict=True))


def greatest_lateness(order: Sequence[int], p: Sequence[int], due: Sequence[int]) -> int:
    """The greatest lateness of jobs in this order; negative where all are early."""
    ends = itertools.accumulate(p[j] for j in order)
    return max(end - due[j] for j, end in zip(order, ends, strict=True))


def earliest_due(p: Sequence[int], due: Sequence[int]) -> int:
    """Jackson's rule: the greatest lateness of jobs in the order of their due times."""
    return greatest_lateness(sorted(range(len(p)), key=lambda j: due[j]), p, due)


def on_time(p: Sequence[int], due: Sequence[int]) -> list[int]:
    """Moore and Hodgson's rule: jobs in the order of due times, the longest thrown out where one is late."""
    kept: list[int] = []
    for job in sorted(range(len(p)), key=lambda j: due[j]):
        kept.append(job)
        if sum(p[j] for j in kept) > due[job]:
            kept.remove(max(kept, key=lambda j: p[j]))
    return sorted(kept)


def test_earliest_due_date_is_best_of_all_orders() -> None:
    """Jackson's rule in this file against every order of the example's jobs."""
    every = itertools.permutations(range(5))
    assert earliest_due(PROCESSING, DUE) == min(greatest_lateness(o, PROCESSING, DUE) for o in every) == 10


@pytest.mark.parametrize(("p", "due"), [(PROCESSING, DUE), TARDY])
def test_due_times_can_be_kept_from_the_greatest_lateness_on(p: tuple[int, ...], due: tuple[int, ...]) -> None:
    """All due times later by Jackson's greatest lateness: nothing is late, a unit less: something is (Jackson 1955)."""
    greatest = earliest_due(p, due)
    assert planned(p, [d + greatest for d in due]).late_min == 0
    short = planned(p, [d + greatest - 1 for d in due])
    assert late(short) >= 1 - 1e-6
    assert short.late_bound > 0


@settings(max_examples=8)
@given(jobs)
def test_on_drawn_jobs_due_times_are_kept_from_the_greatest_lateness_on(drawn: list[tuple[int, int]]) -> None:
    """The same yes or no on jobs drawn by chance."""
    p, due = [a for a, _ in drawn], [b for _, b in drawn]
    greatest = earliest_due(p, due)
    assert planned(p, [d + greatest for d in due]).late_min == 0
    assert late(planned(p, [d + greatest - 1 for d in due])) >= 1 - 1e-6


def test_moore_and_hodgson_keep_three_of_five() -> None:
    """Jobs 3, 4 and 5 are on time, 1 and 2 late (example 3.3.3 from memory)."""
    assert on_time(PROCESSING, DUE) == [2, 3, 4]


def test_as_many_orders_are_on_time_as_moore_and_hodgson_say() -> None:
    """With due times for their three orders none is late; with due times for any four, one is (Moore 1968)."""
    kept = on_time(PROCESSING, DUE)
    for some in itertools.combinations(range(5), len(kept) + 1):
        assert planned(PROCESSING, [d if j in some else None for j, d in enumerate(DUE)]).late_min > 0
    assert planned(PROCESSING, [d if j in kept else None for j, d in enumerate(DUE)]).late_min == 0


@settings(max_examples=8)
@given(jobs)
def test_on_drawn_jobs_no_plan_has_fewer_late_orders(drawn: list[tuple[int, int]]) -> None:
    """No plan is late with fewer orders than Moore and Hodgson's rule; what they keep can be kept."""
    p, due = [a for a, _ in drawn], [b for _, b in drawn]
    kept = on_time(p, due)
    assert planned(p, [d if j in kept else None for j, d in enumerate(due)]).late_min == 0
    fields = [{"due": START + timedelta(seconds=SCALE * d)} for d in due]
    plan = plan_day(machines([SCALE * x for x in p], 1, fields), "quick").plan
    assert sum((order.late_min or 0) > 0 for order in plan.orders) >= len(p) - len(kept)


def test_smiths_rule_on_seven_jobs() -> None:
    """All due at once, weights as priorities: the greatest ratio of weight to time first (Smith 1956), 1942."""
    p, w = SMITH
    rule = sorted(range(7), key=lambda j: -w[j] / p[j])
    assert tardiness(rule, p, [0] * 7, w) == 1942
    goals = planned(p, [0] * 7, w)
    assert late(goals) == pytest.approx(1942)
    assert goals.late_bound == goals.late_min


@settings(max_examples=8)
@given(st.lists(st.tuples(st.integers(1, 20), st.integers(1, 9)), min_size=2, max_size=7))
def test_smiths_rule_on_drawn_jobs(drawn: list[tuple[int, int]]) -> None:
    """The plan's weighted completion is that of the rule, and proven."""
    p, w = [a for a, _ in drawn], [b for _, b in drawn]
    rule = sorted(range(len(p)), key=lambda j: -w[j] / p[j])
    goals = planned(p, [0] * len(p), w)
    assert late(goals) == pytest.approx(tardiness(rule, p, [0] * len(p), w))
    assert goals.late_bound == pytest.approx(goals.late_min, abs=0.01)


@pytest.mark.parametrize(
    ("p", "due", "w", "known"), [(*TARDY, (1,) * 5, 370), (*WEIGHTED, 67)], ids=["total", "weighted"]
)
def test_tardiness_of_textbook_examples(p: Sequence[int], due: Sequence[int], w: Sequence[int], known: int) -> None:
    """370 and 67: what the book says, what every order says, what the plan reaches and proves."""
    assert min(tardiness(o, p, due, w) for o in itertools.permutations(range(len(p)))) == known
    goals = planned(p, due, w)
    assert late(goals) == pytest.approx(known)
    assert goals.late_bound == pytest.approx(goals.late_min, abs=0.01)
