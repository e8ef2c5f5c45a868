"""The ordered problem: a bound on the second goal that keeps the order of the stretches on each press.

For plans of one opening day with at most so many changes in all. Each press runs through stretches, each in one
cell of set-points (`cells`), with a first and a last second; between two of them lies a change. Pieces of each part
are divided over runs and stretches. Every plan in which no more is changed gives such a division, with the
stretches' true times, and it keeps to all of the following:
 1. The first stretch opens after the least warm-up, each later one after the change before it, of which only a break
    of the shop can hide any; a change takes at least the travel from cell to cell and the settling.
 2. Platens: what lies on a press in a stretch, at the quickest pace, spread over its platens, fits between its first
    and last second; so do its closings. Over all stretches of a press it fits at the pace of those who serve it.
 3. Due: of a stretch that takes work due by d, all such work lies between its first second and d. A plan that is as
    good on the first goal as the one in hand has no order later than that one's lateness, spent on it alone, allows.
 4. Ready: work that is ready at r lies between r and the last second of its stretch, if the stretch takes any.
 5. Precedence: all pieces of an operation are done before the last piece of the operation after it is begun, and
    all of the later one lies after the first of the earlier: with f the opening of a stretch in which the earlier
    operation is begun and l the last second of one in which the later is done, the earlier's work in every
    stretch ends before l less one piece of the later, the later's begins after f and one piece of the earlier.
 6. Hands, heads and the second goal as in `relaxation`.
With more changes than so many, a plan costs at least that many changes more than its finish (`bounds`).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from ortools.sat.python import cp_model

from scheduler import calendar, thermal
from scheduler.instance import Instance
from scheduler.linear import total
from scheduler.solving.cells import least_warm_up, suiting
from scheduler.solving.loads import Part, Run
from scheduler.solving.relaxation import Relaxation
from scheduler.solving.shares import TENTH, share_rows, tenths

_LONGEST = 2_000_000  # seconds: more than the horizon


@dataclass(frozen=True, slots=True)
class _Stretch:
    """One stretch of a press: its number there, its first and last working second, and which cell it is in."""

    press: int
    number: int
    opens: cp_model.IntVar
    closes: cp_model.IntVar
    cell: tuple[cp_model.IntVar, ...]
    real: cp_model.IntVar  # whether it is there at all


@dataclass(frozen=True, slots=True)
class Taking:
    """So many pieces of a part take a run in a stretch; tenths of platen and closed seconds a piece."""

    part: int
    placement: str
    run: Run
    stretch: _Stretch
    pieces: cp_model.IntVar
    any: cp_model.IntVar
    platen: int
    closed: int


@dataclass(frozen=True, slots=True)
class Taken:
    """So many pieces of a part take a run on a press, in the stretch that opens at a working second."""

    part: int
    run: Run
    press: int
    opens: int
    pieces: int
    seconds: float  # of a platen a piece


class _Met(cp_model.CpSolverSolutionCallback):
    """Writes down what each solution that is found does, and what it costs in seconds."""

    def __init__(self, problem: Stretches) -> None:
        super().__init__()
        self.problem = problem
        self.plans: list[tuple[float, list[Taken]]] = []

    def on_solution_callback(self) -> None:
        """Called by the solver for each."""
        taken = [
            Taken(t.part, t.run, t.stretch.press, self.value(t.stretch.opens), pieces, t.platen / TENTH)
            for t in self.problem.takings
            if (pieces := self.value(t.pieces))
        ]
        self.plans.append((self.objective_value / TENTH, taken))


class Stretches(Relaxation):
    """The ordered problem with at most `most` changes. `due`: each part's latest working second, None without one.
    `loss`: how many times longer than they must pieces lie on platens, 1 for a bound."""

    def __init__(
        self,
        instance: Instance,
        parts: list[Part],
        known: float,
        floor: int,
        most: int,
        due: list[int | None],
        loss: float = 1.0,
    ) -> None:
        super().__init__(instance, parts, known, floor)
        self.due, self.loss = due, loss
        self.end = max(1, self.axis.work(self.latest))
        self.hidden: dict[int, list[tuple[cp_model.IntVar, cp_model.IntVar]]] = {}
        self.stretches = [s for press in range(len(instance.presses)) for s in self._stretches_of(press, most)]
        self.model.add(sum(self.changes) <= most)
        self.takings: list[Taking] = []
        for number, part in enumerate(parts):
            self._divide(number, part)
        self._platens()
        self._due_and_ready()
        self._precedence()
        self.heads()

    def least_cost(self, effort: float, cutoff: float) -> float:
        """A bound on the second goal of these plans, seconds, no more than `cutoff` where none is cheaper."""
        cost = self.cost()
        self.model.add(cost <= math.ceil(TENTH * cutoff))
        self.model.minimize(cost)
        found = self.bound(effort)
        return cutoff if found is None else min(cutoff, max(0.0, found / TENTH))

    def cheapest(self, effort: float, cutoff: float) -> list[tuple[float, list[Taken]]]:
        """Of these plans those for `cutoff` at most that are found on the way to the cheapest, which comes last: what
        each costs in seconds, and what it does."""
        cost = self.cost()
        self.model.add(cost <= math.floor(TENTH * cutoff))
        self.model.minimize(cost)
        met = _Met(self)
        self.look(effort, met)
        return met.plans

    def _stretches_of(self, press: int, most: int) -> list[_Stretch]:
        made: list[_Stretch] = []
        for number in range(most + 1 if self.cells[press] else 0):
            opens, closes = (self.model.new_int_var(0, self.end, "") for _ in range(2))
            cell = tuple(self.model.new_bool_var("") for _ in self.cells[press])
            self.model.add_exactly_one(cell)
            self.model.add(closes >= opens)
            self.model.add(self.done >= closes)
            real = self.model.new_bool_var("")
            stretch = _Stretch(press, number, opens, closes, cell, real)
            if number:
                self._change(made[-1], stretch)
            else:
                self._warm_up(stretch)
            made.append(stretch)
        return made

    def _warm_up(self, first: _Stretch) -> None:
        shown = self.instance.presses[first.press].at_start
        cells = self.cells[first.press]
        warm = [self.axis.work(least_warm_up(self.instance, first.press, shown, cell)) for cell in cells]
        needed = total(w * z for w, z in zip(warm, first.cell, strict=True))
        self.model.add(first.opens >= needed).only_enforce_if(first.real)

    def _change(self, before: _Stretch, after: _Stretch) -> None:
        """A stretch that is real comes after a change; one that is not is the end of the one before, in its cell."""
        model, machine = self.model, self.instance.day.shop.press[after.press]
        real, cells = after.real, self.cells[after.press]
        model.add_implication(real, before.real)
        seconds, hidden = model.new_int_var(0, _LONGEST, ""), model.new_int_var(0, self.pauses(), "")
        model.add(hidden <= seconds)
        model.add(hidden <= total(self._passed(before.closes, after.opens)))
        model.add(after.opens >= before.closes + seconds - hidden)
        for z, y in zip(before.cell, after.cell, strict=True):
            model.add(y - z <= real)
        heat = self._differs([cell.low for cell in cells], before, after)
        force = self._differs([cell.pressure for cell in cells], before, after)
        settled = machine.settle_s * heat + machine.pressure_change_s * force
        for to, fro in self._potentials(after.press):
            travel = total(t * y for t, y in zip(to, after.cell, strict=True))
            travel -= total(f * z for f, z in zip(fro, before.cell, strict=True))
            model.add(seconds >= travel + settled)
        self.changes.append(real)
        self.seconds.append(seconds)
        self.hidden.setdefault(after.press, []).append((seconds, hidden))

    def _passed(self, closes: cp_model.IntVar, opens: cp_model.IntVar) -> Iterator[cp_model.LinearExprT]:
        """The seconds of each break that lies between the two, 0 where it does not."""
        for start, end in calendar.shop_breaks(self.instance.day):
            if start < self.latest:
                between, at = self.model.new_bool_var(""), self.axis.work(start)
                self.model.add(closes <= at).only_enforce_if(between)
                self.model.add(opens >= at).only_enforce_if(between)
                yield (end - start) * between

    def _differs(self, marks: Sequence[object], before: _Stretch, after: _Stretch) -> cp_model.IntVar:
        """Whether two stretches differ in what the cells are marked with."""
        differs = self.model.new_bool_var("")
        for mark in dict.fromkeys(marks):
            was = total(z for z, m in zip(before.cell, marks, strict=True) if m == mark)
            now = total(y for y, m in zip(after.cell, marks, strict=True) if m == mark)
            self.model.add(now - was <= differs)
        return differs

    def _potentials(self, press: int) -> Iterator[tuple[list[int], list[int]]]:
        """Seconds up to each cell less those up to another are what rising takes, rounded down; so for falling."""
        machine, cells, room = self.instance.day.shop.press[press], self.cells[press], self.instance.room
        base = float(min(cell.low for cell in cells))
        lows = [thermal.heating_seconds(machine, base, cell.low) for cell in cells]
        highs = [thermal.heating_seconds(machine, base, cell.high) for cell in cells]
        yield [math.floor(x) for x in lows], [math.ceil(x) for x in highs]
        if base > room:
            lows = [thermal.cooling_seconds(machine, cell.low, base, room) for cell in cells]
            highs = [thermal.cooling_seconds(machine, cell.high, base, room) for cell in cells]
            yield [-math.ceil(x) for x in highs], [-math.floor(x) for x in lows]

    def _divide(self, number: int, part: Part) -> None:
        """The pieces of a part over its runs and the stretches; every operation of every piece lies in one run."""
        holds: list[list[cp_model.IntVar]] = [[] for _ in range(part.operations)]
        for run in part.runs:
            for stretch in self.stretches:
                fit = run.fits.get(stretch.press)
                if fit is None:
                    continue
                pieces, some = self.model.new_int_var(0, part.pieces, ""), self.model.new_bool_var("")
                self.model.add(pieces <= part.pieces * some)
                self.model.add(pieces >= some)
                self.model.add(sum(stretch.cell[n] for n in suiting(self.cells[stretch.press], fit)) >= some)
                self.model.add_implication(some, stretch.real)
                closed, waits = math.floor(TENTH * fit.closed), math.floor(TENTH * (fit.closed + fit.wait))
                platen = waits + sum(tenths(self._quickest(stretch.press), (row, fit.capacity)) for row in run.on)
                platen = math.floor(self.loss * platen)
                self.takings.append(Taking(number, part.placement, run, stretch, pieces, some, platen, closed))
                self.take(run, stretch.press, pieces)
                for op in range(run.first, run.last + 1):
                    holds[op].append(pieces)
        for taking in holds:
            self.model.add(sum(taking) == part.pieces)

    def _quickest(self, press: int) -> float:
        return min((who.pace for who in self.instance.people if press in who.presses), default=1.0)

    def _platens(self) -> None:
        """What lies on the presses fits into each stretch, and, at the pace of those who serve it, into all."""
        shared = share_rows(self.model, self.instance, self.rows, self.most)
        self.hands(shared)
        for stretch in self.stretches:
            mine = [t for t in self.takings if t.stretch is stretch]
            span = stretch.closes - stretch.opens
            platens = self.instance.presses[stretch.press].stations
            self.model.add(TENTH * platens * span >= total(t.platen * t.pieces for t in mine))
            self.model.add(TENTH * span >= total(t.closed * t.pieces for t in mine))
        for side in self.instance.presses:
            mine = [t for t in self.takings if t.stretch.press == side.index]
            if not mine:
                continue
            first = mine[0].stretch
            changing = self.hidden.get(side.index, [])
            if changing:
                self.model.add(sum(hidden for _, hidden in changing) <= self.pauses())
            room = total([self.done, -first.opens, *(hidden - seconds for seconds, hidden in changing)])
            stands = [
                math.floor(TENTH * (f.closed + f.wait)) * t.pieces for t in mine for f in [t.run.fits[side.index]]
            ]
            self.model.add(TENTH * side.stations * room >= total(stands) + shared.platens[side.index])

    def _due_and_ready(self) -> None:
        for stretch in self.stretches:
            mine = [t for t in self.takings if t.stretch is stretch]
            for due in sorted({d for d in self.due if d is not None and d < self.end}):
                urgent = [t for t in mine if (d := self.due[t.part]) is not None and d <= due]
                self._between(urgent, stretch, due - stretch.opens)
            for ready in sorted({part.ready for part in self.parts if part.ready}):
                held = [t for t in mine if self.parts[t.part].ready >= ready]
                self._between(held, stretch, stretch.closes - self.axis.work(ready))
        for press in range(len(self.instance.presses)):
            first = next((s for s in self.stretches if s.press == press), None)
            for due in sorted({d for d in self.due if d is not None and d < self.end}) if first else []:
                assert first is not None
                mine = [t for t in self.takings if t.stretch.press == press]
                urgent = [t for t in mine if (d := self.due[t.part]) is not None and d <= due]
                self._between(urgent, first, due - first.opens)

    def _between(self, takings: list[Taking], stretch: _Stretch, span: cp_model.LinearExpr) -> None:
        """If any of them is there, they fit on the press's platens for so long."""
        if not takings:
            return
        some = self.model.new_bool_var("")
        for t in takings:
            self.model.add_implication(t.any, some)
        platens = self.instance.presses[stretch.press].stations
        work = total(t.platen * t.pieces for t in takings)
        self.model.add(TENTH * platens * span >= work).only_enforce_if(some)

    def _precedence(self) -> None:
        for number, part in enumerate(self.parts):
            mine = [t for t in self.takings if t.part == number]
            for cut in range(part.operations - 1):
                self._follow([t for t in mine if t.run.last == cut], [t for t in mine if t.run.first == cut + 1])
            if part.after is not None:
                before = [t for t in self.takings if t.part == part.after]
                last = self.parts[part.after].operations - 1
                self._follow([t for t in before if t.run.last == last], [t for t in mine if t.run.first == 0])

    def _follow(self, early: list[Taking], late: list[Taking]) -> None:
        """The earlier operation's takings against the later's: either side has one if the other has."""
        model = self.model
        begin, end = model.new_int_var(0, self.end, ""), model.new_int_var(0, self.end, "")
        some = model.new_bool_var("")
        first, last = [model.new_bool_var("") for _ in early], [model.new_bool_var("") for _ in late]
        model.add(sum(first) == some)
        model.add(sum(last) == some)
        lag_early = min((t.platen for t in early), default=0) // TENTH
        lag_late = min((t.platen for t in late), default=0) // TENTH
        for t, chosen in zip(early, first, strict=True):
            model.add_implication(t.any, some)
            model.add_implication(chosen, t.any)
            model.add(begin >= t.stretch.opens).only_enforce_if(chosen)
            platens = self.instance.presses[t.stretch.press].stations
            span = end - lag_late - t.stretch.opens
            model.add(TENTH * platens * span >= t.platen * t.pieces).only_enforce_if(t.any)
        for t, chosen in zip(late, last, strict=True):
            model.add_implication(t.any, some)
            model.add_implication(chosen, t.any)
            model.add(end <= t.stretch.closes).only_enforce_if(chosen)
            platens = self.instance.presses[t.stretch.press].stations
            span = t.stretch.closes - begin - lag_early
            model.add(TENTH * platens * span >= t.platen * t.pieces).only_enforce_if(t.any)
