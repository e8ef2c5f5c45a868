"""What no plan can beat. Each bound is a relaxation: a problem that every plan solves, and that is easier.

Work (contract 5's second goal), the fluid problem: drop order, precedence and whole loadings; keep only how
many pieces go through their operations in which runs (`loads`) on which press, who does their hand rows (`shares`),
which settings each press visits (`cells`), and what that costs.
 1. Press: what lies on a press before the finish, at the pace of those who serve it, spread over its platens, is no
    more than its working time by then; so are its closings. A press that works has first warmed up, and each
    change costs its seconds, of which only a break of the shop can hide any.
 2. Settings: a press that takes a run visits a cell that suits it. Visiting n cells takes n - 1 changes (one fewer
    for each further day, whose first is free), each distinct temperature but the first costs the settling time,
    and from the lowest to the highest it has to travel once, up or down.
 3. Hands: every hand row is somebody's time, whole seconds at their pace; people have only their hours. Pieces
    that stay on the platen between two operations save an unloading and a loading, and the press waits for the
    peel, which the second goal charges.
 4. Heads and tails: work that is ready at r is done after r; after the last opening a peel still has to cool.
Every plan gives a solution of this problem with the same cost or less, so its optimum, or CP-SAT's bound on it,
is a bound on every plan.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from ortools.sat.python import cp_model

from scheduler import calendar
from scheduler.calendar import Spans
from scheduler.instance import Instance
from scheduler.linear import total
from scheduler.solving.axis import Axis
from scheduler.solving.cells import Cell, cells_of, least_travel, least_warm_up, suiting
from scheduler.solving.loads import Part, Run, least_hands, least_platen
from scheduler.solving.shares import TENTH, Rows, Shared, share_rows

_ROUNDS = 4  # a proven finish shows who was missing before it, which proves a later one


@dataclass(frozen=True, slots=True)
class Bound:
    """A bound in seconds (of the second goal) and the earliest finish it goes with, seconds from the start."""

    work: float
    finish: int


def work_bound(instance: Instance, parts: list[Part], known: float, effort: float = 4.0) -> Bound:
    """A bound on the second goal. `known` is the value of a plan in hand, seconds: it limits the days to look at."""
    floor = Axis(calendar.shop_windows(instance.day)).work(instance.begins)
    for _ in range(_ROUNDS):
        higher = _Fluid(instance, parts, known, floor).least_finish(effort / _ROUNDS)
        if higher <= floor:
            break
        floor = higher
    fluid = _Fluid(instance, parts, known, floor)
    return Bound(fluid.least_cost(effort), fluid.axis.real(floor))


class _Fluid:
    """One build of the fluid problem. `floor`: working seconds before which no plan is known to end."""

    def __init__(self, instance: Instance, parts: list[Part], known: float, floor: int) -> None:
        self.instance, self.floor = instance, floor
        self.cells = tuple(cells_of(parts, press.index) for press in instance.presses)
        self.axis = Axis(calendar.shop_windows(instance.day))
        weight = instance.day.shop.goals.finish
        self.latest = min(instance.horizon, int(known / weight) + 1) if weight > 0 else instance.horizon
        self.days = max(1, sum(a < self.latest for a, _ in instance.open_hours))
        self.parts = _alike(parts)
        self.most = sum(part.pieces for part in parts)
        self.model = cp_model.CpModel()
        self.done = self.model.new_int_var(floor, max(floor, 1, self.axis.work(self.latest)), "done")
        self._amounts()
        self._visits()
        shared = share_rows(self.model, instance, self.rows, self.most)
        self._presses(shared)
        self._hands(shared)
        self._heads()

    def least_finish(self, effort: float) -> int:
        """A bound on the finish alone, working seconds."""
        self.model.minimize(self.done)
        return math.ceil(self._bound(effort, self.floor) - 1e-6)

    def least_cost(self, effort: float) -> float:
        """A bound on the second goal, seconds."""
        goals = self.instance.day.shop.goals
        self.model.minimize(
            math.floor(TENTH * goals.finish + 1e-6) * self._real()
            + math.floor(TENTH * 60 * goals.change + 1e-6) * total(self.changes)
            + TENTH * total(self.seconds)
            + total(self.waits)
        )
        return self._bound(effort, 0.0) / TENTH

    def _bound(self, effort: float, least: float) -> float:
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 2
        solver.parameters.interleave_search = True
        solver.parameters.max_deterministic_time = effort
        status = solver.solve(self.model)
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE, cp_model.UNKNOWN):
            return least
        return max(least, solver.best_objective_bound)

    def _amounts(self) -> None:
        """Pieces of each part that take each run on each press; every operation of every piece lies in one run."""
        self.amount: list[tuple[Run, int, int, cp_model.IntVar]] = []
        self.rows = Rows()
        self.waits: list[cp_model.LinearExprT] = []
        worth = math.floor(TENTH * self.instance.day.shop.goals.peel_wait + 1e-6)
        for part in self.parts:
            holds: list[list[cp_model.IntVar]] = [[] for _ in range(part.operations)]
            for run in part.runs:
                for press, fit in run.fits.items():
                    taken = self.model.new_int_var(0, part.pieces, "")
                    self.amount.append((run, press, part.pieces, taken))
                    self.rows.add(press, run, taken)
                    if fit.wait:
                        self.waits.append(math.floor(worth * fit.wait) * taken)
                    for op in range(run.first, run.last + 1):
                        holds[op].append(taken)
            for taking in holds:
                self.model.add(sum(taking) == part.pieces)

    def _visits(self) -> None:
        """Which cells each press visits, how many changes and seconds that takes at least."""
        self.changes: list[cp_model.IntVar] = []
        self.seconds: list[cp_model.IntVar] = []
        self.used: list[cp_model.IntVar] = []
        self.warm: list[cp_model.LinearExpr] = []
        for press, cells in enumerate(self.cells):
            visit = [self.model.new_bool_var("") for _ in cells]
            used = self.model.new_bool_var("")
            for run, on, pieces, taken in self.amount:
                if on == press:
                    self.model.add(taken <= pieces * sum(visit[n] for n in suiting(cells, run.fits[press])))
                    self.model.add(taken <= pieces * used)
            self._travel(press, dict(zip(cells, visit, strict=True)), used)

    def _travel(self, press: int, visit: dict[Cell, cp_model.IntVar], used: cp_model.IntVar) -> None:
        model, machine = self.model, self.instance.day.shop.press[press]
        cells = sorted(visit, key=lambda cell: cell.low)
        changes = model.new_int_var(0, len(visit), "")
        seconds = model.new_int_var(0, 1_000_000, "")
        model.add(changes >= sum(visit.values()) - self.days)
        heat = {cell.low: model.new_bool_var("") for cell in cells}
        force = {cell.pressure: model.new_bool_var("") for cell in cells}
        for cell, v in visit.items():
            model.add_implication(v, heat[cell.low])
            model.add_implication(v, force[cell.pressure])
        points = {cell.low: cell for cell in cells}
        span = {(a, b): model.new_bool_var("") for a in points for b in points if a <= b}
        if span:
            model.add(sum(span.values()) == used)
        for t, v in heat.items():
            model.add(v <= sum(r for (a, b), r in span.items() if a <= t <= b))
        travel = [
            min(least_travel(self.instance, press, points[a], points[b])) * r
            for (a, b), r in span.items()
            if a < b and self.days == 1
        ]
        model.add(
            seconds
            >= total(travel)
            + machine.settle_s * (sum(heat.values()) - self.days)
            + machine.pressure_change_s * (sum(force.values()) - self.days)
        )
        shown = self.instance.presses[press].at_start
        warm = {t: least_warm_up(self.instance, press, shown, cell) for t, cell in points.items()}
        self.changes.append(changes)
        self.seconds.append(seconds)
        self.used.append(used)
        self.warm.append(total(min(warm[t] for t in points if a <= t <= b) * r for (a, b), r in span.items()))

    def _presses(self, shared: Shared) -> None:
        """What lies on the press, its warm-up and changes fit into its working time by the finish."""
        for press, side in enumerate(self.instance.presses):
            missing, pauses = self._missing(self._press_spans(press)), self._pauses()
            hidden = self.model.new_int_var(0, pauses, "")
            self.model.add(hidden <= self.seconds[press])
            closed, stands = [], []
            for run, on, _, taken in self.amount:
                if on == press:
                    fit = run.fits[press]
                    closed.append(math.floor(TENTH * fit.closed) * taken)
                    stands.append(math.floor(TENTH * (fit.closed + fit.wait)) * taken)
            room = total([self.done, -missing, -self.warm[press], -self.seconds[press], hidden])
            idle = self.model.new_int_var(0, self.axis.total + 1, "")  # an unused press has no time to keep
            self.model.add(idle <= (self.axis.total + 1) * (1 - self.used[press]))
            self.model.add(TENTH * side.stations * (room + idle) >= total(stands) + shared.platens[press])
            self.model.add(TENTH * (room + idle) >= total(closed))

    def _press_spans(self, press: int) -> Spans:
        """The press's working windows without the least warm-up of each later day."""
        side = self.instance.presses[press]
        points = [t for cell in self.cells[press] for t in (cell.low, cell.high)]
        if not points:
            return side.windows
        holes = []
        for (_, closed), (opened, _) in zip(self.instance.open_hours, self.instance.open_hours[1:], strict=False):
            rested = self.instance.overnight(press, float(max(points)), opened - closed)
            shown = [rested, self.instance.room]
            least = min(self.instance.warm_up(press, t, (point, "")) for point in points for t in shown)
            holes.append((opened, opened + least))
        return calendar.without(side.windows, holes)

    def _missing(self, spans: Spans) -> int:
        """Working seconds of the shop before the least finish in which these spans are not there."""
        until = self.axis.real(self.floor) if self.floor else 0
        return max(0, self.axis.work(until) - calendar.length(spans, until))

    def _pauses(self) -> int:
        """Seconds of breaks before the latest finish: a change may pass in them."""
        return calendar.length(calendar.shop_breaks(self.instance.day), self.latest)

    def _hands(self, shared: Shared) -> None:
        """Every hand row goes to somebody, in whole seconds at their pace, within their hours."""
        holes = [(0, self._first_warm())]  # nothing is pressed before some press is warm
        for who, mine in zip(self.instance.people, shared.people, strict=True):
            missing = self._missing(calendar.without(who.windows, holes))
            able = self.model.new_int_var(0, max(1, self.axis.total), "")
            self.model.add(able <= self.done - missing)
            self.model.add(TENTH * able >= mine)

    def _first_warm(self) -> int:
        """The earliest moment any press can be ready, real seconds."""
        opens = self.instance.open_hours[0][0] if self.instance.open_hours else 0
        return opens + min(
            (
                least_warm_up(self.instance, press, self.instance.presses[press].at_start, cell)
                for press, cells in enumerate(self.cells)
                for cell in cells
            ),
            default=0,
        )

    def _heads(self) -> None:
        """Work ready at r is done after r, by all presses at their most platens, and by all hands."""
        platens = sum(side.stations for side in self.instance.presses)
        speed = sum(1 / who.pace for who in self.instance.people)
        tail = min((math.floor(run.tail) for part in self.parts for run in part.runs), default=0)
        for ready in {part.ready for part in self.parts if part.ready}:
            later = [part for part in self.parts if part.ready >= ready]
            press = sum(part.pieces * least_platen(self.instance, part) for part in later)
            hands = sum(part.pieces * least_hands(part) for part in later)
            most = max(math.floor(press / platens) + tail, math.floor(hands / speed))
            self.model.add(self.done >= self.axis.work(ready) + most)

    def _real(self) -> cp_model.LinearExpr:
        terms: list[cp_model.LinearExprT] = [self.done + (self.axis.spans[0][0] if self.axis.spans else 0)]
        for before, seconds in self.axis.gaps():
            if self.axis.real(before) < self.latest:
                past = self.model.new_bool_var("")
                self.model.add(self.done <= before).only_enforce_if(~past)
                terms.append(seconds * past)
        return total(terms)


def _alike(parts: list[Part]) -> list[Part]:
    """Parts that ask the same, whenever they are due, taken together."""
    found: dict[tuple[object, ...], Part] = {}
    for part in parts:
        key = (part.ready, part.operations, *(run.key for run in part.runs))
        held = found.get(key)
        found[key] = replace(part, pieces=part.pieces + (held.pieces if held else 0))
    return list(found.values())
