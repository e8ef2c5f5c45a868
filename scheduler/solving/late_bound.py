"""What no plan can beat in weighted lateness: the day relaxed to one fast machine.

Orders finish in some sequence. By the time the k-th of them is finished all the work of the first k is done, by
all presses together (or by all hands together), so its finish is no earlier than on one machine as fast as
all of them that does the orders in that sequence without a pause. Nor is it earlier than the order could be done
if it had the shop to itself. So the least weighted tardiness of that one machine bounds every plan. Beside it stands
what `late_flow` proves in real time, with when orders are ready; the better of them is reported.
"""

from __future__ import annotations

import math
from collections.abc import Callable

from ortools.sat.python import cp_model

from scheduler import calendar
from scheduler.instance import Instance
from scheduler.linear import new_solver
from scheduler.solving.axis import Axis
from scheduler.solving.late_flow import flow_bound
from scheduler.solving.least import LeastOperation

_SCALE = 10


def late_bound(instance: Instance, operations: list[LeastOperation], effort: float = 1.0) -> float:
    """A bound on the sum of priority x late seconds."""
    axis = Axis(calendar.shop_windows(instance.day))
    platens = sum(side.stations for side in instance.presses)
    by_press = _work(instance, operations, lambda op: min(f.occupied for f in op.fits.values()) / platens)
    speed = sum(1 / who.pace for who in instance.people)
    by_hand = _work(instance, operations, lambda op: op.hands / speed)
    alone = _alone(instance, axis, operations)
    warm = axis.work(instance.begins) if instance.standing else _least_warm_up(instance)
    found = [_tardiness(instance, axis, by_press, alone, warm, effort)]
    if not any(calendar.common(who.windows, calendar.shop_breaks(instance.day)) for who in instance.people):
        first = _first_hands(instance, axis)  # where nobody peels in the shop's breaks, hands have its working time
        found.append(_tardiness(instance, axis, by_hand, alone, first, effort))
    return max(*found, flow_bound(instance, operations))


def _work(
    instance: Instance, operations: list[LeastOperation], seconds: Callable[[LeastOperation], float]
) -> list[float]:
    work = [0.0] * len(instance.order_ids)
    for op in operations:
        work[instance.order_of[op.line]] += op.pieces * seconds(op)
    return work


def _least_warm_up(instance: Instance) -> int:
    """Seconds before any press can have reached a setting it needs."""
    found = []
    for press in instance.presses:
        points = {
            t for task in instance.tasks for p, fit in task.fits.items() if p == press.index for t in (fit.lo, fit.hi)
        }
        shown = press.at_start
        inside = any(
            fit.lo <= shown <= fit.hi for task in instance.tasks for p, fit in task.fits.items() if p == press.index
        )
        if points:
            found.append(0 if inside else min(instance.warm_up(press.index, shown, (t, "")) for t in points))
    return min(found, default=0)


def _first_hands(instance: Instance, axis: Axis) -> int:
    return min((axis.work(who.windows[0][0]) for who in instance.people if who.windows), default=0)


def _alone(instance: Instance, axis: Axis, operations: list[LeastOperation]) -> list[int]:
    """Working seconds by which each order could be done at the earliest, if it had the shop to itself."""
    earliest = [0] * len(instance.order_ids)
    chain: dict[int, float] = {}
    platens = sum(side.stations for side in instance.presses)
    for op in operations:
        chain[op.line] = chain.get(op.line, 0.0) + min(f.occupied for f in op.fits.values())
        order = instance.order_of[op.line]
        earliest[order] = max(earliest[order], axis.work(op.ready) + math.floor(chain[op.line]))
    for order in range(len(earliest)):
        mine = [op for op in operations if instance.order_of[op.line] == order]
        for ready in {op.ready for op in mine}:
            later = [op for op in mine if op.ready >= ready]
            press = sum(op.pieces * min(f.occupied for f in op.fits.values()) for op in later) / platens
            earliest[order] = max(earliest[order], axis.work(ready) + math.floor(press))
    return earliest


def _tardiness(instance: Instance, axis: Axis, work: list[float], alone: list[int], start: int, effort: float) -> float:
    orders = [o for o, due in enumerate(instance.due) if due is not None and (work[o] or not instance.standing)]
    if not orders:
        return 0.0
    model = cp_model.CpModel()
    top = sum(math.ceil(work[o]) for o in orders) + start + max(alone) + 1
    intervals, terms = [], []
    for order in orders:
        due = instance.due[order]
        assert due is not None
        size = math.floor(work[order])
        begin = model.new_int_var(start, top, "")
        intervals.append(model.new_fixed_size_interval_var(begin, size, ""))
        late = model.new_int_var(0, top, "")
        latest = axis.work(max(0, due))
        model.add(late >= begin + size - latest)
        model.add(late >= alone[order] - latest)
        terms.append(math.floor(_SCALE * instance.priority[order]) * late)
    model.add_no_overlap(intervals)
    model.minimize(sum(terms))
    solver = new_solver()
    solver.parameters.num_workers = 1
    solver.parameters.max_deterministic_time = effort
    status = solver.solve(model)
    known = status in (cp_model.OPTIMAL, cp_model.FEASIBLE, cp_model.UNKNOWN)
    return max(0.0, solver.best_objective_bound / _SCALE) if known else 0.0
