"""Two-machine flow shop: Johnson's rule is optimal (Johnson 1954); example worked by hand in data/WORKED.md."""

from __future__ import annotations

import itertools

from scheduler.planning import plan_day
from tests.reference.days import job_shop

JOBS = [(4, 2), (3, 5), (5, 1), (7, 3), (8, 6)]


def makespan(order: tuple[tuple[int, int], ...]) -> int:
    """The end of the last job where both machines take the jobs in this order."""
    first = second = 0
    for a, b in order:
        first += a
        second = max(first, second) + b
    return second


def test_the_plan_ends_where_johnsons_rule_ends() -> None:
    """28 minutes, which is the least over all orders; the bound is no more."""
    rule = sorted((j for j in JOBS if j[0] < j[1]), key=lambda j: j[0])
    rule += sorted((j for j in JOBS if j[0] >= j[1]), key=lambda j: -j[1])
    assert makespan(tuple(rule)) == min(makespan(order) for order in itertools.permutations(JOBS)) == 28
    goals = plan_day(job_shop([(0, 1)] * len(JOBS), JOBS), "normal").plan.goals
    assert goals.work_min == 28
    assert goals.work_bound <= 28
