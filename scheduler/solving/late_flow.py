"""What no plan can beat in weighted lateness: every order's work poured into slices of the shop's hours.

Whatever the plan, each second of an order's hand work and press work lies in some slice of time that is not over
before the order is ready; a slice holds no more of it than the people there, and the platens, have time for. A
plan's order is finished no earlier than the slice in which any of its work lies begins, so its lateness is at least
the lateness of those slices' beginnings, averaged over its work, by hand or by press (job splitting: Posner 1985;
Belouadah, Posner and Potts 1992). An order is done on some day or it is not: if any of its work is left for a later
day, it is as late as that day's beginning makes it. The least priority x lateness of all such pourings, a mixed
programme small in whole numbers, or what its branching proves of it, bounds every plan, in real time: nights and
closed days count. After the last slice there is room for everything.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable
from dataclasses import dataclass

from ortools.linear_solver import pywraplp

from scheduler import calendar
from scheduler.calendar import Span
from scheduler.instance import Instance
from scheduler.solving.axis import Axis
from scheduler.solving.least import LeastOperation

_SLICES = 80
_SHORTEST = 600  # seconds of a slice
_ROOM = 1.5  # how often the work must fit into the slices before the last
_TRUST = 1e-6  # of the programme's value, for its arithmetic


@dataclass(frozen=True, slots=True)
class _Need:
    """Seconds of work of an order, ready at a moment."""

    order: int
    ready: int
    seconds: float


def flow_bound(instance: Instance, operations: list[LeastOperation], nodes: int = 50) -> float:
    """A bound on the sum of priority x late seconds; `nodes` of branching at most."""
    hands = _needs(instance, operations, lambda op: op.hands)
    platens = _needs(instance, operations, lambda op: min(fit.occupied for fit in op.fits.values()))
    slices = _slices(instance, hands, platens)
    solver = pywraplp.Solver.CreateSolver("SCIP")
    solver.SetSolverSpecificParametersAsString(f"limits/nodes = {nodes}\nlimits/gap = 0.001\n")
    dated = [o for o, due in enumerate(instance.due) if due is not None]
    late = {o: solver.NumVar(0, solver.infinity(), "") for o in dated}
    for order, moment in earliest(instance, platens).items():
        if order in late:
            solver.Add(late[order] >= moment - (instance.due[order] or 0))
    over = _left_over(solver, instance, late, slices)
    _pour(solver, instance, late, over, hands, slices, _hand_seconds)
    _pour(solver, instance, late, over, platens, slices, _platen_seconds)
    solver.Minimize(solver.Sum([instance.priority[o] * v for o, v in late.items()]))
    if solver.Solve() not in (pywraplp.Solver.OPTIMAL, pywraplp.Solver.FEASIBLE):
        return 0.0
    proven: float = solver.Objective().BestBound()
    return max(0.0, proven * (1 - _TRUST) - _TRUST)


def earliest(instance: Instance, platens: list[_Need]) -> dict[int, int]:
    """The moment before which an order's press work cannot be over if it had every platen to itself."""
    axis = Axis(calendar.shop_windows(instance.day))
    most = sum(side.stations for side in instance.presses)
    found: dict[int, int] = {}
    for need in platens:
        later = sum(n.seconds for n in platens if n.order == need.order and n.ready >= need.ready)
        moment = axis.real(axis.work(need.ready) + math.floor(later / most))
        found[need.order] = max(found.get(need.order, 0), moment)
    return found


def _left_over(
    solver: pywraplp.Solver, instance: Instance, late: dict[int, pywraplp.Variable], slices: list[Span]
) -> list[tuple[int, dict[int, pywraplp.Variable]]]:
    """For each later day, by its first second: whether anything of an order is left for it or for after it."""
    begins = [a for a, _ in instance.open_hours if slices and slices[0][0] < a <= slices[-1][1]]
    found: list[tuple[int, dict[int, pywraplp.Variable]]] = []
    for begin in begins:
        left = {}
        for order, v in late.items():
            due = instance.due[order]
            if due is not None and due < begin:
                left[order] = solver.BoolVar("")
                solver.Add(v >= (begin - due) * left[order])
        found.append((begin, left))
    return found


def _needs(
    instance: Instance, operations: list[LeastOperation], seconds: Callable[[LeastOperation], float]
) -> list[_Need]:
    found: dict[tuple[int, int], float] = {}
    for op in operations:
        key = (instance.order_of[op.line], op.ready)
        found[key] = found.get(key, 0.0) + op.pieces * seconds(op)
    return [_Need(order, ready, amount) for (order, ready), amount in found.items() if amount > 0]


def _slices(instance: Instance, hands: list[_Need], platens: list[_Need]) -> list[Span]:
    """Opening hours cut into slices, until all is ready and the work fits well; due times are cuts."""
    last = max((need.ready for need in platens), default=0)
    asked = [_ROOM * sum(need.seconds for need in needs) for needs in (hands, platens)]
    days: list[Span] = []
    for day in instance.open_hours:
        days.append(day)
        whole = (days[0][0], day[1])
        given = (_hand_seconds(instance, whole), _platen_seconds(instance, whole))
        if day[1] > last and all(has >= asks for has, asks in zip(given, asked, strict=True)):
            break
    size = max(_SHORTEST, calendar.length(tuple(days)) // _SLICES)
    cuts = {due for due in instance.due if due is not None}
    found: list[Span] = []
    for start, end in days:
        inner = {*range(start, end, size), *(c for c in cuts if start < c < end), end}
        points = sorted(inner)
        found.extend(itertools.pairwise(points))
    return found


def _hand_seconds(instance: Instance, span: Span) -> float:
    return sum(calendar.length(calendar.common(who.windows, [span])) / who.pace for who in instance.people)


def _platen_seconds(instance: Instance, span: Span) -> float:
    return sum(side.stations * calendar.length(calendar.common(side.windows, [span])) for side in instance.presses)


def _pour(
    solver: pywraplp.Solver,
    instance: Instance,
    late: dict[int, pywraplp.Variable],
    over: list[tuple[int, dict[int, pywraplp.Variable]]],
    needs: list[_Need],
    slices: list[Span],
    room: Callable[[Instance, Span], float],
) -> None:
    """Each need in slices that end after it is ready, as shares; beyond the last there is room for all."""
    rest = slices[-1][1] if slices else 0
    holds: list[list[tuple[float, pywraplp.Variable]]] = [[] for _ in slices]
    for need in needs:
        due = instance.due[need.order]
        shares, waits = [], []
        starts = []
        for number, (start, end) in enumerate([*slices, (rest, max(rest, need.ready) + 1)]):
            if end <= need.ready:
                continue
            share = solver.NumVar(0, 1, "")
            shares.append(share)
            starts.append(start)
            if number < len(slices):
                holds[number].append((need.seconds, share))
            if due is not None and max(start, need.ready) > due:
                waits.append((max(start, need.ready) - due) * share)
        solver.Add(solver.Sum(shares) == 1)
        for begin, left in over:
            after = [share for start, share in zip(starts, shares, strict=True) if start >= begin]
            if need.order in left and after:
                solver.Add(solver.Sum(after) <= left[need.order])
        if waits:
            solver.Add(late[need.order] >= solver.Sum(waits))
    for span, held in zip(slices, holds, strict=True):
        if held:
            solver.Add(solver.Sum([seconds * share for seconds, share in held]) <= room(instance, span))
