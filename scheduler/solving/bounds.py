"""What no plan can beat. Each bound is a relaxation: a problem that every plan solves, and that is easier.

`fluid` knows how much of what goes where and what that costs, `stretches` keeps the order of settings as well, and
`late_bound` is for the first goal. The best of them is reported.
"""

from __future__ import annotations

from dataclasses import dataclass

from scheduler import calendar
from scheduler.instance import Instance
from scheduler.solving.axis import Axis
from scheduler.solving.fluid import Fluid
from scheduler.solving.loads import Part

_ROUNDS = 4  # a proven finish shows who was missing before it, which proves a later one


@dataclass(frozen=True, slots=True)
class Bound:
    """A bound in seconds (of the second goal) and the earliest finish it goes with, seconds from the start."""

    work: float
    finish: int


def work_bound(instance: Instance, parts: list[Part], known: float, effort: float = 4.0) -> Bound:
    """A bound on the second goal. `known` is the value of a plan in hand, seconds: it limits the days to look at."""
    axis = Axis(calendar.shop_windows(instance.day))
    floor = axis.work(instance.begins)
    for _ in range(_ROUNDS):
        higher = Fluid(instance, parts, known, floor).least_finish(effort / _ROUNDS)
        if higher <= floor:
            break
        floor = higher
    return Bound(Fluid(instance, parts, known, floor).least_cost(effort), axis.real(floor))
