"""The finish times that hold in 50, 80 and 95 days of 100, and the chance of being on time."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np

from models.day import Day
from models.plan import Finish, Likely, Plan, Row
from scheduler.likely.hours import Times
from scheduler.likely.network import Unplayable, network_of
from scheduler.likely.play import FRESH, Played, play
from scheduler.likely.rooms import Known

DAYS = 500
LARGEST = 20_000  # rows of a plan that is played; a larger one would take longer than it is worth
_MOST = 3_000_000  # rows x days that are held in memory at once


def foresee(
    day: Day, plan: Plan, rows: Sequence[Row], days: int = DAYS, seed: int | None = None, known: Known = FRESH
) -> Plan:
    """The plan with likely finishes beside its planned ones, from so many simulated days (fewer on huge days).

    `seed` left out: the plan's own; the same day, plan and seed give the same figures. What is `known` of a day that
    goes on does not stray. A plan that cannot be played, or of more than LARGEST rows, comes back without figures and
    with a warning that says why.
    """
    if len(rows) > LARGEST:
        return _without(plan, f"its timetable has more than {LARGEST} rows")
    seed = plan.seed if seed is None else seed
    days = max(50, min(days, _MOST // max(1, len(rows))))
    try:
        network = network_of(day, rows)
    except Unplayable:
        return _without(plan, "what was begun before the moment cannot be put in one order with what comes")
    played = play(day, network, day.shop.spread, days, seed, known)
    orders = tuple(_finish(day, order, played.finish.get(order.order)) for order in plan.orders)
    return plan.model_copy(update={"orders": orders, "likely": _likely(played, days, seed)})


def _without(plan: Plan, why: str) -> Plan:
    """The plan with no likely finishes, and why."""
    said = f"no likely finishes are given: {why}"
    return plan.model_copy(update={"warnings": (*plan.warnings, said)})


def holds(finishes: Times, share: float) -> int:
    """The whole second by which at least this share of the days are done."""
    ordered = np.sort(finishes)
    return math.ceil(float(ordered[max(1, math.ceil(share * len(ordered) - 1e-9)) - 1]) - 1e-6)


def _finish(day: Day, order: Finish, finishes: Times | None) -> Finish:
    if finishes is None:
        return order
    by = {f"holds_{n}": day.at(holds(finishes, n / 100)) for n in (50, 80, 95)}
    due = order.due
    on_time = None if due is None else round(float(np.mean(finishes <= day.seconds(due) + 1e-6)), 4)
    return order.model_copy(update={**by, "on_time": on_time})


def _likely(played: Played, days: int, seed: int) -> Likely:
    return Likely(
        days=days,
        seed=seed,
        spoiled=round(float(played.spoiled.mean()), 2),
        closings=played.closings,
        overpressed=round(float(played.overpressed.mean()), 2),
        peeled_late=round(float(played.peeled_late.mean()), 2),
    )
