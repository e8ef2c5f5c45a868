"""What no plan can beat. Each bound is a relaxation: a problem that every plan solves, and that is easier.

Work (contract 5's second goal), the fluid problem: drop order, precedence and whole loadings; keep only how
many pieces of each kind of operation go to which press, which settings each press visits, and what that costs.
 1. Press: what lies on a press before the finish, spread over its platens, is no more than its working time by
    then; so are its closings. A press that works has first warmed up, and each change costs its seconds, of
    which only a break of the shop can hide any.
 2. Settings: a press that runs an operation visits a setting inside its window. Visiting n settings takes n - 1
    changes (one fewer for each further day, whose first is free), each distinct temperature but the first
    costs the settling time, and from the lowest to the highest it has to travel once, up or down.
 3. Hands: every hand row is somebody's time, whole seconds at their pace; people have only their hours.
 4. Heads and tails: work that is ready at r is done after r; after the last opening a peel still has to cool.
Every plan gives a solution of this problem with the same cost or less, so its optimum, or CP-SAT's bound on it,
is a bound on every plan.
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass

from ortools.sat.python import cp_model

from scheduler import calendar, thermal
from scheduler.calendar import Spans
from scheduler.instance import Instance, Setting
from scheduler.linear import total
from scheduler.solving.axis import Axis
from scheduler.solving.least import LeastOperation, least_row

_TENTH = 10
_ROUNDS = 4  # a proven finish shows who was missing before it, which proves a later one


@dataclass(frozen=True, slots=True)
class Bound:
    """A bound in seconds (of the second goal) and the earliest finish it goes with, seconds from the start."""

    work: float
    finish: int


def work_bound(
    instance: Instance,
    operations: list[LeastOperation],
    settings: tuple[tuple[Setting, ...], ...],
    known: float,
    effort: float = 4.0,
) -> Bound:
    """A bound on the second goal. `known` is the value of a plan in hand, seconds: it limits the days to look at."""
    floor = Axis(calendar.shop_windows(instance.day)).work(instance.begins)
    for _ in range(_ROUNDS):
        higher = _Fluid(instance, operations, settings, known, floor).least_finish(effort / _ROUNDS)
        if higher <= floor:
            break
        floor = higher
    fluid = _Fluid(instance, operations, settings, known, floor)
    return Bound(fluid.least_cost(effort), fluid.axis.real(floor))


class _Fluid:
    """One build of the fluid problem. `floor`: working seconds before which no plan is known to end."""

    def __init__(
        self,
        instance: Instance,
        operations: list[LeastOperation],
        settings: tuple[tuple[Setting, ...], ...],
        known: float,
        floor: int,
    ) -> None:
        self.instance, self.settings, self.floor = instance, settings, floor
        self.axis = Axis(calendar.shop_windows(instance.day))
        weight = instance.day.shop.goals.finish
        self.latest = min(instance.horizon, int(known / weight) + 1) if weight > 0 else instance.horizon
        self.days = max(1, sum(a < self.latest for a, _ in instance.open_hours))
        self.kinds = self._kinds(operations)
        self.model = cp_model.CpModel()
        self.done = self.model.new_int_var(floor, max(floor, 1, self.axis.work(self.latest)), "done")
        self._amounts()
        self._visits()
        self._presses()
        self._hands()
        self._heads()

    def least_finish(self, effort: float) -> int:
        """A bound on the finish alone, working seconds."""
        self.model.minimize(self.done)
        return math.ceil(self._bound(effort, self.floor) - 1e-6)

    def least_cost(self, effort: float) -> float:
        """A bound on the second goal, seconds."""
        goals = self.instance.day.shop.goals
        self.model.minimize(
            round(_TENTH * goals.finish) * self._real()
            + round(_TENTH * 60 * goals.change) * total(self.changes)
            + _TENTH * total(self.seconds)
        )
        return self._bound(effort, 0.0) / _TENTH

    def _bound(self, effort: float, least: float) -> float:
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 2
        solver.parameters.interleave_search = True
        solver.parameters.max_deterministic_time = effort
        status = solver.solve(self.model)
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE, cp_model.UNKNOWN):
            return least
        return max(least, solver.best_objective_bound)

    def _kinds(self, operations: list[LeastOperation]) -> list[tuple[LeastOperation, int]]:
        count: Counter[tuple[object, ...]] = Counter()
        example: dict[tuple[object, ...], LeastOperation] = {}
        for op in operations:
            count[op.kind] += op.pieces
            example[op.kind] = op
        return [(example[kind], pieces) for kind, pieces in count.items()]

    def _amounts(self) -> None:
        """Pieces of each kind on each press."""
        self.amount: list[dict[int, cp_model.IntVar]] = []
        for number, (kind, pieces) in enumerate(self.kinds):
            row = {press: self.model.new_int_var(0, pieces, f"y{number}_{press}") for press in kind.fits}
            self.model.add(sum(row.values()) == pieces)
            self.amount.append(row)

    def _visits(self) -> None:
        """Which settings each press visits, how many changes and seconds that takes at least."""
        self.changes: list[cp_model.IntVar] = []
        self.seconds: list[cp_model.IntVar] = []
        self.used: list[cp_model.IntVar] = []
        self.warm: list[cp_model.LinearExpr] = []
        for press, options in enumerate(self.settings):
            visit = {s: self.model.new_bool_var(f"v{press}_{s}") for s in options}
            used = self.model.new_bool_var(f"u{press}")
            for (kind, pieces), row in zip(self.kinds, self.amount, strict=True):
                if press in row:
                    fit = kind.fits[press]
                    suits = [v for s, v in visit.items() if fit.lo <= s[0] <= fit.hi and s[1] in fit.pressures]
                    self.model.add(row[press] <= pieces * sum(suits))
                    self.model.add(row[press] <= pieces * used)
            self._travel(press, visit, used)

    def _travel(self, press: int, visit: dict[Setting, cp_model.IntVar], used: cp_model.IntVar) -> None:
        model, machine = self.model, self.instance.day.shop.press[press]
        points = sorted({s[0] for s in visit})
        words = sorted({s[1] for s in visit})
        changes = model.new_int_var(0, len(visit), "")
        seconds = model.new_int_var(0, 1_000_000, "")
        model.add(changes >= sum(visit.values()) - self.days)
        heat = {t: model.new_bool_var("") for t in points}
        force = {w: model.new_bool_var("") for w in words}
        for s, v in visit.items():
            model.add_implication(v, heat[s[0]])
            model.add_implication(v, force[s[1]])
        span = {(a, b): model.new_bool_var("") for a in points for b in points if a <= b}
        if span:
            model.add(sum(span.values()) == used)
        for t, v in heat.items():
            model.add(v <= sum(r for (a, b), r in span.items() if a <= t <= b))
        travel = sum(self._least_travel(press, a, b) * r for (a, b), r in span.items()) if self.days == 1 else 0
        model.add(
            seconds
            >= travel
            + machine.settle_s * (sum(heat.values()) - self.days)
            + machine.pressure_change_s * (sum(force.values()) - self.days)
        )
        shown = self.instance.presses[press].at_start
        warm = total(
            min(self._warm_low(press, shown, t) for t in points if a <= t <= b) * r for (a, b), r in span.items()
        )
        self.changes.append(changes)
        self.seconds.append(seconds)
        self.used.append(used)
        self.warm.append(warm)

    def _least_travel(self, press: int, low: int, high: int) -> int:
        """The least seconds from the lowest set-point to the highest or back, without settling."""
        if low == high:
            return 0
        machine = self.instance.day.shop.press[press]
        up = thermal.heating_seconds(machine, low, high)
        down = thermal.cooling_seconds(machine, high, low, self.instance.room)
        return math.floor(min(up, down))

    def _warm_low(self, press: int, shown: float, point: int) -> int:
        if self.instance.presses[press].stands.off_since is not None and point < shown:
            return 0  # it cools by itself
        return self.instance.warm_up(press, shown, (point, ""))

    def _presses(self) -> None:
        """The press's work, warm-up and changes fit into its working time by the finish."""
        for press, side in enumerate(self.instance.presses):
            missing, pauses = self._missing(self._press_spans(press)), self._pauses()
            hidden = self.model.new_int_var(0, pauses, "")
            self.model.add(hidden <= self.seconds[press])
            occupied, closed = [], []
            for (kind, _), row in zip(self.kinds, self.amount, strict=True):
                if press in row:
                    fit = kind.fits[press]
                    occupied.append(math.floor(_TENTH * fit.occupied) * row[press])
                    closed.append(math.floor(_TENTH * fit.closed) * row[press])
            room = total([self.done, -missing, -self.warm[press], -self.seconds[press], hidden])
            idle = self.model.new_int_var(0, self.axis.total + 1, "")  # an unused press has no time to keep
            self.model.add(idle <= (self.axis.total + 1) * (1 - self.used[press]))
            self.model.add(_TENTH * side.stations * (room + idle) >= sum(occupied))
            self.model.add(_TENTH * (room + idle) >= sum(closed))

    def _press_spans(self, press: int) -> Spans:
        """The press's working windows without the least warm-up of each later day."""
        side = self.instance.presses[press]
        points = [s[0] for s in self.settings[press]]
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

    def _hands(self) -> None:
        """Every hand row goes to somebody, in whole seconds at their pace, within their hours."""
        rows: Counter[tuple[float, int]] = Counter()
        for kind, pieces in self.kinds:
            for seconds in kind.rows:
                rows[seconds, kind.gang] += pieces
        holes = [(0, self._first_warm())]  # nothing is pressed before some press is warm
        work: list[list[cp_model.LinearExprT]] = [[] for _ in self.instance.people]
        for (seconds, gang), pieces in rows.items():
            shares = [self.model.new_int_var(0, pieces, "") for _ in self.instance.people]
            self.model.add(sum(shares) == pieces)
            for who, mine, share in zip(self.instance.people, work, shares, strict=True):
                mine.append(math.floor(_TENTH * least_row(who.pace, seconds, gang)) * share)
        for who, mine in zip(self.instance.people, work, strict=True):
            missing = self._missing(calendar.without(who.windows, holes))
            able = self.model.new_int_var(0, max(1, self.axis.total), "")
            self.model.add(able <= self.done - missing)
            self.model.add(_TENTH * able >= total(mine))

    def _first_warm(self) -> int:
        """The earliest moment any press can be ready, real seconds."""
        opens = self.instance.open_hours[0][0] if self.instance.open_hours else 0
        return opens + min(
            (
                self._warm_low(press, self.instance.presses[press].at_start, s[0])
                for press, options in enumerate(self.settings)
                for s in options
            ),
            default=0,
        )

    def _heads(self) -> None:
        """Work ready at r is done after r, by all presses at their most platens."""
        platens = sum(side.stations for side in self.instance.presses)
        tail = min((math.floor(kind.tail) for kind, _ in self.kinds), default=0)
        for ready in {kind.ready for kind, _ in self.kinds if kind.ready}:
            work = sum(
                pieces * min(fit.occupied for fit in kind.fits.values())
                for kind, pieces in self.kinds
                if kind.ready >= ready
            )
            self.model.add(self.done >= self.axis.work(ready) + math.floor(work / platens) + tail)

    def _real(self) -> cp_model.LinearExpr:
        terms: list[cp_model.LinearExprT] = [self.done + (self.axis.spans[0][0] if self.axis.spans else 0)]
        for before, seconds in self.axis.gaps():
            if self.axis.real(before) < self.latest:
                past = self.model.new_bool_var("")
                self.model.add(self.done <= before).only_enforce_if(~past)
                terms.append(seconds * past)
        return total(terms)
