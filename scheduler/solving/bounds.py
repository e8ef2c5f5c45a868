"""What no plan can beat. Each bound is a relaxation: a problem that every plan solves, and that is easier.

`fluid` knows how much of what goes where and what that costs, `stretches` keeps the order of settings as well, and
`late_bound` is for the first goal. The best of them is reported.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from scheduler import calendar
from scheduler.instance import Instance
from scheduler.solving.axis import Axis
from scheduler.solving.fluid import Fluid
from scheduler.solving.loads import Part
from scheduler.solving.stretches import Stretches

_MOST_CHANGES = 5
_ROUNDS = 4  # a proven finish shows who was missing before it, which proves a later one


@dataclass(frozen=True, slots=True)
class Bound:
    """A bound in seconds (of the second goal) and the earliest finish it goes with, seconds from the start."""

    work: float
    finish: int


def work_bound(
    instance: Instance, parts: list[Part], known: float, effort: float = 4.0, late: float | None = None
) -> Bound:
    """A bound on the second goal. `known` is the value of a plan in hand, seconds: it limits the days to look at.

    `late`: that plan's first goal, priority x seconds; then the bound is one among plans as good on the first goal.
    """
    axis = Axis(calendar.shop_windows(instance.day))
    floor = axis.work(instance.begins)
    for _ in range(_ROUNDS):
        higher = Fluid(instance, parts, known, floor).least_finish(effort / _ROUNDS)
        if higher <= floor:
            break
        floor = higher
    fluid = Fluid(instance, parts, known, floor)
    work = fluid.least_cost(effort)
    if fluid.days == 1 and instance.standing is None and late is not None:
        work = max(work, _ordered(instance, parts, known, floor, _allowed(instance, parts, axis, late), effort))
    return Bound(work, axis.real(floor))


def _allowed(instance: Instance, parts: list[Part], axis: Axis, late: float) -> list[int | None]:
    """The working second by which each part is done in a plan that is no later than so much in all."""
    least = min(instance.priority, default=1.0)
    if least <= 0 and late > 0:
        return [None] * len(parts)
    spare = math.ceil(late / least) if late > 0 else 0
    return [None if part.due is None else axis.work(max(0, part.due + spare)) for part in parts]


def _ordered(
    instance: Instance, parts: list[Part], known: float, floor: int, due: list[int | None], effort: float
) -> float:
    """A plan changes no more than so often, or it costs its finish and more changes than that: whichever is less."""
    goals = instance.day.shop.goals
    axis = Axis(calendar.shop_windows(instance.day))
    proven = 0.0
    for most in range(_MOST_CHANGES):
        beyond = min(known, goals.finish * axis.real(floor) + 60 * goals.change * (most + 1))
        reached = Stretches(instance, parts, known, floor, most, due).least_cost(effort, beyond)
        proven = max(proven, reached)
        if reached < beyond or beyond >= known:
            break
    return proven
