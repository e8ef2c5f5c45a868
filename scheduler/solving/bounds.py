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
from scheduler.solving.loads import Part, least_hands_on
from scheduler.solving.stretches import Stretches

_MOST_CHANGES = 6
_LEAST_EFFORT = 0.02  # deterministic seconds: less is not worth a try
_FOR_FINISH = 0.06  # deterministic seconds for a round
_ROUNDS = 3  # a proven finish shows who was missing before it, which proves a later one


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
    floor, effort = finish_floor(instance, parts, known, axis.work(instance.begins), effort)
    work = instance.day.shop.goals.finish * axis.real(floor)
    fluid = Fluid(instance, parts, known, floor)
    if fluid.days > 1 or instance.standing is not None or late is None:
        return Bound(max(work, fluid.least_cost(effort)), axis.real(floor))
    reached, left = _ordered(instance, parts, known, floor, allowed(instance, parts, axis, late), effort)
    if left > _LEAST_EFFORT:
        reached = max(reached, fluid.least_cost(left))
    return Bound(max(work, reached), axis.real(floor))


def finish_floor(instance: Instance, parts: list[Part], known: float, floor: int, effort: float) -> tuple[int, float]:
    """Working seconds before which no plan ends, and the effort that is left.

    What hands do on platens they do in working time; from there on CP-SAT knows who is missing before.
    """
    speed = sum(1 / who.pace for who in instance.people)
    floor += math.floor(sum(part.pieces * least_hands_on(part) for part in parts) / speed)
    absent = None
    for _ in range(_ROUNDS):
        fluid = Fluid(instance, parts, known, floor, settings=False)
        if fluid.absent() == absent:
            break
        absent = fluid.absent()
        floor = fluid.least_finish(_FOR_FINISH)
        effort -= fluid.spent
    return floor, effort


def allowed(instance: Instance, parts: list[Part], axis: Axis, late: float) -> list[int | None]:
    """The working second by which each part is done in a plan that is no later than so much in all."""
    least = min(instance.priority, default=1.0)
    if least <= 0 and late > 0:
        return [None] * len(parts)
    spare = math.ceil(late / least) if late > 0 else 0
    return [None if part.due is None else axis.work(max(0, part.due + spare)) for part in parts]


def _ordered(
    instance: Instance, parts: list[Part], known: float, floor: int, due: list[int | None], effort: float
) -> tuple[float, float]:
    """A plan changes no more than so often, or it costs its finish and more changes than that: whichever is less.

    With the effort that is left.
    """
    goals = instance.day.shop.goals
    axis = Axis(calendar.shop_windows(instance.day))
    proven = 0.0
    for most in range(_MOST_CHANGES):
        beyond = min(known, goals.finish * axis.real(floor) + 60 * goals.change * (most + 1))
        stretches = Stretches(instance, parts, known, floor, most, due)
        reached = stretches.least_cost(effort, beyond)
        effort -= stretches.spent
        proven = max(proven, reached)
        if reached < beyond or beyond >= known or effort < _LEAST_EFFORT:
            break
    return proven, effort
