"""What the relaxations share: working time, who is there, hands, heads and the second goal.

- Hands: every hand row is somebody's time, within their hours and not before some press is warm. On the platens
  nothing lies over a break of the shop; somebody who is there then may still peel: what has no latest moment, and
  for so long as a peel may wait what came off the presses just before.
- Heads: work that is ready at r is done after r, by all presses at their most platens and by all hands.
"""

from __future__ import annotations

import math

from ortools.sat.python import cp_model

from scheduler import calendar
from scheduler.calendar import Spans
from scheduler.instance import Instance, hand
from scheduler.linear import new_solver, total
from scheduler.solving.axis import Axis
from scheduler.solving.cells import cells_of, least_warm_up
from scheduler.solving.loads import Part, Run, least_hands_on, least_platen
from scheduler.solving.shares import TENTH, Rows, Shared, Terms

_NEAR = 0.001


def opening_days(instance: Instance, known: float) -> int:
    """On how many days the shop opens before a plan with this second goal, seconds, can end."""
    return max(1, sum(a < _latest(instance, known) for a, _ in instance.open_hours))


def _latest(instance: Instance, known: float) -> int:
    weight = instance.day.shop.goals.finish
    return min(instance.horizon, int(known / weight) + 1) if weight > 0 else instance.horizon


class Relaxation:
    """A problem every plan solves. `floor`: working seconds before which no plan is known to end; `known`: seconds
    of the second goal that need not be passed."""

    def __init__(self, instance: Instance, parts: list[Part], known: float, floor: int) -> None:
        self.instance, self.parts, self.floor = instance, parts, floor
        self.cells = tuple(cells_of(parts, press.index) for press in instance.presses)
        self.axis = Axis(calendar.shop_windows(instance.day))
        self.latest = _latest(instance, known)
        self.days = opening_days(instance, known)
        self.most = sum(part.pieces * sum(len(run.on + run.off) for run in part.runs) for part in parts)
        self.rows = Rows()
        self.changes: list[cp_model.IntVar] = []
        self.seconds: list[cp_model.IntVar] = []
        self.waits: Terms = []
        self.spent = 0.0  # deterministic seconds
        self.loose: Terms = []  # tenths of peels that may wait for ever
        self.model = cp_model.CpModel()
        self.done = self.model.new_int_var(floor, max(floor, 1, self.axis.work(self.latest)), "done")

    def take(self, run: Run, press: int, pieces: cp_model.IntVar) -> None:
        """So many pieces take this run on this press: its hand rows and the waits it costs."""
        fit = run.fits[press]
        self.rows.add(press, run, pieces)
        worth = math.floor(TENTH * self.instance.day.shop.goals.peel_wait + 1e-6)
        if fit.wait:
            self.waits.append(math.floor(worth * fit.wait) * pieces)
        if run.latest is None:
            slowest = max((who.pace for who in self.instance.people), default=1.0)
            self.loose.append(sum(TENTH * hand(slowest, 1, row) for row in run.off) * pieces)

    def cost(self) -> cp_model.LinearExpr:
        """The second goal, in tenths of seconds."""
        goals = self.instance.day.shop.goals
        return total(
            [
                math.floor(TENTH * goals.finish + 1e-6) * self._real(),
                math.floor(TENTH * 60 * goals.change + 1e-6) * total(self.changes),
                TENTH * total(self.seconds),
                *self.waits,
            ]
        )

    def bound(self, effort: float) -> float | None:
        """A bound on what is minimised, within so many deterministic seconds; None where there is no solution.

        It is as good as proven where a solution lies so near that more effort is not worth it.
        """
        solver = new_solver()
        solver.parameters.num_workers = 1
        solver.parameters.linearization_level = 2  # its strength is its linear relaxation
        solver.parameters.cp_model_probing_level = 0  # probing and cuts cost more here than they bring
        solver.parameters.cut_level = 0
        solver.parameters.max_deterministic_time = effort
        solver.parameters.relative_gap_limit = _NEAR
        status = solver.solve(self.model)
        self.spent += solver.response_proto.deterministic_time
        if status == cp_model.INFEASIBLE:
            return None
        return solver.best_objective_bound if status != cp_model.MODEL_INVALID else -math.inf

    def look(self, effort: float, met: cp_model.CpSolverSolutionCallback) -> None:
        """Look for cheap solutions for so many deterministic seconds; `met` hears of every better one."""
        solver = new_solver()
        solver.parameters.num_workers = 1
        solver.parameters.cp_model_probing_level = 0
        solver.parameters.cut_level = 0
        solver.parameters.max_deterministic_time = effort
        solver.solve(self.model, met)
        self.spent += solver.response_proto.deterministic_time

    def press_spans(self, press: int) -> Spans:
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

    def missing(self, spans: Spans) -> int:
        """Working seconds of the shop before the least finish in which these spans are not there."""
        until = self.axis.real(self.floor) if self.floor else 0
        return max(0, self.axis.work(until) - calendar.length(spans, until))

    def absent(self) -> tuple[int, ...]:
        """Working seconds before the least finish in which each person, and each press, is not there."""
        opens, warm = calendar.shop_windows(self.instance.day), [(0, self._first_warm())]
        people = [calendar.common(calendar.without(who.windows, warm), opens) for who in self.instance.people]
        presses = [self.press_spans(press.index) for press in self.instance.presses]
        return tuple(self.missing(spans) for spans in (*people, *presses))

    def pauses(self) -> int:
        """Seconds of breaks before the latest finish: a change may pass in them."""
        return calendar.length(calendar.shop_breaks(self.instance.day), self.latest)

    def hands(self, shared: Shared) -> None:
        """Every hand row goes to somebody, in whole seconds at their pace, within their hours."""
        opens = calendar.shop_windows(self.instance.day)
        extras = []
        for who, mine in zip(self.instance.people, shared.people, strict=True):
            there = calendar.without(who.windows, [(0, self._first_warm())])  # nothing is pressed before it is warm
            missing = self.missing(calendar.common(there, opens))
            extra = self.model.new_int_var(0, calendar.length(self._in_breaks(there), self.latest), "")
            self.model.add(TENTH * (self.done - missing + extra) >= mine)
            extras.append((extra, self._just_before(there)))
        self.model.add(TENTH * sum(e for e, _ in extras) <= total(self.loose) + TENTH * sum(n for _, n in extras))

    def _in_breaks(self, there: Spans) -> Spans:
        return calendar.common(there, calendar.shop_breaks(self.instance.day))

    def _just_before(self, there: Spans) -> int:
        """Seconds of breaks in which one person may still peel what came off the presses just before."""
        runs = [run for part in self.parts for run in part.runs]
        slowest = max((who.pace for who in self.instance.people), default=1.0)
        rows = [
            hand(slowest, fit.capacity, row) + (run.latest or 0)
            for run in runs
            for fit in run.fits.values()
            for row in run.off
        ]
        return sum(min(end - start, max(rows, default=0)) for start, end in self._in_breaks(there))

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

    def heads(self) -> None:
        """Work ready at r is done after r, by all presses at their most platens, and by all hands.

        A peel may cool, and be peeled, while the shop pauses: only before any pause does it surely add working time.
        """
        platens = sum(side.stations for side in self.instance.presses)
        speed = sum(1 / who.pace for who in self.instance.people)
        unbroken = bool(self.axis.spans) and self.latest <= self.axis.spans[0][1]
        tails = [math.floor(run.tail) for part in self.parts for run in part.runs]
        tail = min(tails, default=0) if unbroken else 0
        for ready in {part.ready for part in self.parts}:
            later = [part for part in self.parts if part.ready >= ready]
            press = sum(part.pieces * least_platen(self.instance, part) for part in later)
            hands = sum(part.pieces * least_hands_on(part) for part in later)
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
