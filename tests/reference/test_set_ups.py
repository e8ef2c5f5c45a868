"""Set-up times that depend on the sequence, as far as temperatures can express them: distances on a line.

One machine: a path through points on a line, whose optimum is a closed formula (a tour that goes to one end first).
Several machines: the little days of test_second_opinion.py.
"""

from __future__ import annotations

import random

import pytest

from scheduler.planning import plan_day
from tests.reference.little import Everything, Job, Little, Machine

PROCESSING = 60
LONG = pytest.mark.thorough


def on_a_line(seed: int, count: int) -> tuple[list[int], int]:
    """Set-points of jobs, and what the press shows, all within 60 degrees."""
    rng = random.Random(seed)
    return [rng.randint(290, 350) for _ in range(count)], rng.randint(285, 355)


def least_travel(points: list[int], shown: int, settle: int) -> int:
    """Seconds of warm-up and of changes twice (they pass, and they count), at 60 degrees a minute both ways.

    Whoever starts at the nearer end and goes to the other passes every point once: nothing on a line is shorter. A
    stop settles, so each different point but the first costs that besides (and the first, where it is not shown).
    """
    low, high = min(points), max(points)
    first = min(abs(shown - low), abs(shown - high))
    warm = first + settle if first else 0
    return warm + 2 * ((high - low) + settle * (len(set(points)) - 1))


def line(points: list[int], shown: int, settle: int) -> Little:
    """One press that takes a second for a degree, one minute a job, changes worth their time alone."""
    return Little(tuple(Job(((PROCESSING, t),)) for t in points), (Machine(430, shown, 60, 60, settle),), worth=0)


@pytest.mark.parametrize("seed", range(4))
def test_the_formula_is_right(seed: int) -> None:
    """Six points in every order: none is cheaper than to one end and then to the other."""
    points, shown = on_a_line(seed, 6)
    little = line(points, shown, 20)
    assert Everything(little).best()[1] == 6 * PROCESSING + least_travel(points, shown, 20)


@pytest.mark.parametrize(("seed", "count"), [(10, 8), (11, 12), (12, 20), pytest.param(13, 40, marks=LONG)])
def test_a_plan_travels_no_further_than_it_has_to(seed: int, count: int) -> None:
    """Up to forty set-points on one press: the plan's work is the formula's, and its bound is not above."""
    points, shown = on_a_line(seed, count)
    goals = plan_day(line(points, shown, 20).day(), "quick").plan.goals
    least = count * PROCESSING + least_travel(points, shown, 20)
    assert goals.work_min * 60 == pytest.approx(least, abs=0.6)
    assert goals.work_bound * 60 <= least + 0.6


@pytest.mark.parametrize("seed", range(20, 24))
def test_two_machines_share_the_line(seed: int) -> None:
    """Five jobs on two presses alike: as good as the best of every share and order."""
    points, shown = on_a_line(seed, 5)
    little = Little(tuple(Job(((PROCESSING, t),)) for t in points), (Machine(430, shown, 60, 60, 20),) * 2, worth=0)
    goals = plan_day(little.day(), "normal").plan.goals
    assert goals.work_min * 60 == pytest.approx(Everything(little).best()[1], abs=0.6)
    assert goals.work_bound * 60 <= Everything(little).least_work() + 0.6
