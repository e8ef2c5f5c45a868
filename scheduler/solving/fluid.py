"""The fluid problem: a bound on the second goal (contract 5) by how much goes where.

It: drop order, precedence and whole loadings; keep only how
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
from dataclasses import replace

from ortools.sat.python import cp_model

from scheduler.instance import Instance
from scheduler.linear import total
from scheduler.solving.cells import Cell, least_travel, least_warm_up, suiting
from scheduler.solving.loads import Part, Run
from scheduler.solving.relaxation import Relaxation
from scheduler.solving.shares import TENTH, Shared, share_rows


class Fluid(Relaxation):
    """One build of the fluid problem. Without `settings` it is only good for the finish: no press has to change."""

    def __init__(
        self, instance: Instance, parts: list[Part], known: float, floor: int, *, settings: bool = True
    ) -> None:
        super().__init__(instance, _alike(parts), known, floor)
        self.used: list[cp_model.IntVar] = []
        self.warm: list[cp_model.LinearExprT] = []
        self.changing: list[cp_model.LinearExprT] = []
        self._amounts()
        self._visits(settings)
        shared = share_rows(self.model, instance, self.rows, self.most)
        self._presses(shared)
        self.hands(shared)
        self.heads()

    def least_finish(self, effort: float) -> int:
        """A bound on the finish alone, working seconds."""
        self.model.minimize(self.done)
        found = self.bound(effort)
        return self.floor if found is None else max(self.floor, math.ceil(found - 1e-6))

    def least_cost(self, effort: float) -> float:
        """A bound on the second goal, seconds; 0 where nothing is known."""
        self.model.minimize(self.cost())
        return max(0.0, self.bound(effort) or 0.0) / TENTH

    def _amounts(self) -> None:
        """Pieces of each part that take each run on each press; every operation of every piece lies in one run."""
        self.amount: list[tuple[Run, int, int, cp_model.IntVar]] = []
        for part in self.parts:
            holds: list[list[cp_model.IntVar]] = [[] for _ in range(part.operations)]
            for run in part.runs:
                for press in run.fits:
                    taken = self.model.new_int_var(0, part.pieces, "")
                    self.amount.append((run, press, part.pieces, taken))
                    self.take(run, press, taken)
                    for op in range(run.first, run.last + 1):
                        holds[op].append(taken)
            for taking in holds:
                self.model.add(sum(taking) == part.pieces)

    def _visits(self, settings: bool) -> None:
        """Which cells each press visits, how many changes and seconds that takes at least."""
        for press, cells in enumerate(self.cells):
            used = self.model.new_bool_var("")
            self.used.append(used)
            mine = [(run, pieces, taken) for run, on, pieces, taken in self.amount if on == press]
            for _, pieces, taken in mine:
                self.model.add(taken <= pieces * used)
            if not settings:
                shown = self.instance.presses[press].at_start
                warm = min((least_warm_up(self.instance, press, shown, cell) for cell in cells), default=0)
                self.warm.append(warm * used)
                self.changing.append(0)
                continue
            visit = [self.model.new_bool_var("") for _ in cells]
            for run, pieces, taken in mine:
                self.model.add(taken <= pieces * sum(visit[n] for n in suiting(cells, run.fits[press])))
            self._travel(press, dict(zip(cells, visit, strict=True)), used)

    def _travel(self, press: int, visit: dict[Cell, cp_model.IntVar], used: cp_model.IntVar) -> None:
        model, machine = self.model, self.instance.day.shop.press[press]
        cells = sorted(visit, key=lambda cell: cell.low)
        changes = model.new_int_var(0, len(visit), "")
        seconds = model.new_int_var(0, 2_000_000, "")
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
        self.changing.append(seconds)
        self.warm.append(total(min(warm[t] for t in points if a <= t <= b) * r for (a, b), r in span.items()))

    def _presses(self, shared: Shared) -> None:
        """What lies on the press, its warm-up and changes fit into its working time by the finish."""
        for press, side in enumerate(self.instance.presses):
            missing, pauses = self.missing(self.press_spans(press)), self.pauses()
            hidden = self.model.new_int_var(0, pauses, "")
            self.model.add(hidden <= self.changing[press])
            closed, stands = [], []
            for run, on, _, taken in self.amount:
                if on == press:
                    fit = run.fits[press]
                    closed.append(math.floor(TENTH * fit.closed) * taken)
                    stands.append(math.floor(TENTH * (fit.closed + fit.wait)) * taken)
            room = total([self.done, -missing, -1 * self.warm[press], -1 * self.changing[press], hidden])
            idle = self.model.new_int_var(0, self.axis.total + 1, "")  # an unused press has no time to keep
            self.model.add(idle <= (self.axis.total + 1) * (1 - self.used[press]))
            self.model.add(TENTH * side.stations * (room + idle) >= total(stands) + shared.platens[press])
            self.model.add(TENTH * (room + idle) >= total(closed))


def _alike(parts: list[Part]) -> list[Part]:
    """Parts that ask the same, whenever they are due, taken together."""
    found: dict[tuple[object, ...], Part] = {}
    for part in parts:
        key = (part.ready, part.operations, *(run.key for run in part.runs))
        held = found.get(key)
        found[key] = replace(part, pieces=part.pieces + (held.pieces if held else 0))
    return list(found.values())
