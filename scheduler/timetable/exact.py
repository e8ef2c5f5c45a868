"""A stretch of the timetable put right to the second by CP-SAT, with the order of loadings on each press kept.

Every hand row is an interval of its own, so that between loading a platen and laying its layers a person may
turn to another press; that is where the rhythm of one person with several presses comes from. What lies
outside the stretch stands as it is.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace

from ortools.sat.python import cp_model

from scheduler.calendar import Span, union
from scheduler.instance import Instance
from scheduler.linear import total
from scheduler.timetable.acts import FAR
from scheduler.timetable.record import Change, Loading

# Weights: late seconds, the last piece's finish, the press that will end last, every press's end.
_LATE, _FINISH, _LAST, _SUM = 100_000, 1000, 20, 10


def retime(
    instance: Instance,
    stretch: Sequence[Loading],
    others: Sequence[Loading],
    changes: Sequence[Change],
    rest: Sequence[int],
    effort: float,
    seed: int = 0,
) -> list[Loading] | None:
    """New times for the loadings of `stretch`, or None where nothing better was found.

    `others` and their times stand; those later on a press than the stretch must not be given. `rest[press]` is
    the work in seconds a press still has after the stretch. `effort`: deterministic seconds.
    """
    return _Exact(instance, stretch, others, changes, rest).solve(effort, seed)


class _Exact:
    def __init__(
        self,
        instance: Instance,
        stretch: Sequence[Loading],
        others: Sequence[Loading],
        changes: Sequence[Change],
        rest: Sequence[int],
    ) -> None:
        self.instance, self.rest = instance, rest
        self.stretch = sorted(stretch, key=lambda x: (x.start, x.press))
        self.others, self.changes = others, changes
        self.model = cp_model.CpModel()
        self.low = min(x.start for x in self.stretch) - 7200
        self.high = max(x.finish for x in self.stretch) + 60
        self.rows: dict[int, list[tuple[cp_model.IntVar, cp_model.IntVar]]] = {}
        self.peels: dict[int, tuple[cp_model.IntVar, cp_model.IntVar]] = {}
        self.hands: list[list[cp_model.IntervalVar]] = [[] for _ in instance.people]
        self.by: dict[tuple[int, int], list[tuple[int, cp_model.IntVar]]] = {}
        for loading in self.stretch:
            self._loading(loading)
        self._people()
        self._presses()
        self._pieces()
        self._rack()
        self._objective()

    def _time(self, hint: int) -> cp_model.IntVar:
        var = self.model.new_int_var(max(0, self.low), self.high, "")
        self.model.add_hint(var, hint)
        return var

    def _loading(self, loading: Loading) -> None:
        script = loading.script
        rows: list[tuple[cp_model.IntVar, cp_model.IntVar]] = []
        for number, act in enumerate(script.acts):
            begun, ended, who = loading.done[number]
            start, end = self._time(begun), self._time(ended)
            if number:
                before = rows[-1][1]
                self.model.add(start >= before + act.lo)
                if act.hi < FAR:
                    self.model.add(start <= before + act.hi)
            self._by_whom((loading.number, number), loading.press, start, end, script.times, number, who)
            rows.append((start, end))
        self.rows[loading.number] = rows
        ready = max(0, self.instance.ready[script.task.line])
        self.model.add(rows[0][0] >= ready)
        if script.peel is not None:
            self._peel(loading, rows)

    def _peel(self, loading: Loading, rows: list[tuple[cp_model.IntVar, cp_model.IntVar]]) -> None:
        script = loading.script
        assert script.peel is not None and loading.peel is not None
        start, end = self._time(loading.peel[0]), self._time(loading.peel[1])
        last = script.acts[-1]
        opened = rows[-2][1] + last.closed if script.auto_open else rows[-1][0]
        self.model.add(start >= rows[-1][1])
        self.model.add(start >= opened + script.peel[0])
        if script.peel[1] < FAR:
            self.model.add(start <= opened + script.peel[1])
        times = tuple((t,) for t in script.peel_times)
        self._by_whom((loading.number, -1), None, start, end, times, 0, loading.peel[2])
        self.peels[loading.number] = (start, end)

    def _by_whom(
        self,
        key: tuple[int, int],
        press: int | None,
        start: cp_model.IntVar,
        end: cp_model.IntVar,
        times: Sequence[Sequence[int]],
        number: int,
        now: int,
    ) -> None:
        """One of the people who may does this row, in their own time."""
        able = [who for who in self.instance.people if press is None or press in who.presses]
        if len(able) == 1:
            who = able[0]
            length = times[who.index][number]
            self.hands[who.index].append(self.model.new_interval_var(start, length, end, ""))
            self.by[key] = [(who.index, self.model.new_constant(1))]
            return
        choices = []
        for who in able:
            mine = self.model.new_bool_var("")
            self.model.add_hint(mine, int(who.index == now))
            self.hands[who.index].append(
                self.model.new_optional_interval_var(start, times[who.index][number], end, mine, "")
            )
            choices.append((who.index, mine))
        self.model.add_exactly_one(mine for _, mine in choices)
        self.by[key] = choices

    def _people(self) -> None:
        """Nobody does two things at once, or works outside their hours, or leaves what stands already."""
        busy: dict[int, list[Span]] = defaultdict(list)
        for other in self.others:
            for start, end, person in [*other.done, *([other.peel] if other.peel else [])]:
                if end > self.low:
                    busy[person].append((start, end))
        for who in self.instance.people:
            for a, b in union([*busy[who.index], *_outside(who.windows, self.low, self.high)]):
                self.hands[who.index].append(self.model.new_fixed_size_interval_var(a, b - a, ""))
            self.model.add_no_overlap(self.hands[who.index])

    def _presses(self) -> None:
        for press in self.instance.presses:
            mine = [x for x in self.stretch if x.press == press.index]
            before = sorted((x for x in self.others if x.press == press.index), key=lambda x: x.off)
            if not mine:
                continue
            self._in_order(press.stations, mine, before)
            lanes = []
            for loading in mine:
                rows = self.rows[loading.number]
                size = self.model.new_int_var(1, self.high - max(0, self.low), "")
                lanes.append((self.model.new_interval_var(rows[0][0], size, rows[-1][1], ""), loading))
            for span in _outside(press.windows, self.low, self.high):
                for lane, _ in lanes:
                    closed = self.model.new_fixed_size_interval_var(span[0], span[1] - span[0], "")
                    self.model.add_no_overlap([lane, closed])
            if press.stations > 1:
                self._one_heat(mine, before)

    def _in_order(self, stations: int, mine: Sequence[Loading], before: Sequence[Loading]) -> None:
        """Dressed in the order they were; a platen is free before it is dressed again, the setting stands."""
        queue = [*before[-stations:], *mine]
        for at, loading in enumerate(queue):
            if loading.number not in self.rows:
                continue
            start = self.rows[loading.number][0][0]
            if at >= stations:
                self.model.add(start >= self._off(queue[at - stations]))
            if at:
                self.model.add(start >= self._on(queue[at - 1]))
            for change in self.changes:
                if change.press == loading.press and change.end <= loading.start:
                    self._after_change(change, queue[:at], start)

    def _after_change(self, change: Change, earlier: Sequence[Loading], start: cp_model.IntVar) -> None:
        """A change that stands before a loading takes its time after all that lay on the press before it."""
        if change.warm_up or change.start < self.low:
            self.model.add(start >= change.end)
            return
        for loading in earlier:
            if loading.off <= change.start:
                self.model.add(start >= self._off(loading) + (change.end - change.start))

    def _off(self, loading: Loading) -> cp_model.LinearExprT:
        rows = self.rows.get(loading.number)
        return rows[-1][1] if rows else loading.off

    def _on(self, loading: Loading) -> cp_model.LinearExprT:
        rows = self.rows.get(loading.number)
        return rows[0][0] if rows else loading.start

    def _one_heat(self, mine: Sequence[Loading], before: Sequence[Loading]) -> None:
        """With several platens under one heat, one closing at a time."""
        closings = []
        for loading in mine:
            rows = self.rows[loading.number]
            for number, act in enumerate(loading.script.acts):
                if act.closed:
                    shut = rows[number - 1][1]
                    if loading.script.auto_open:
                        closings.append(self.model.new_fixed_size_interval_var(shut, act.closed, ""))
                    else:
                        size = self.model.new_int_var(act.closed, act.hi, "")
                        closings.append(self.model.new_interval_var(shut, size, rows[number][0], ""))
        for loading in before:
            opens = iter(loading.opens)
            for number, act in enumerate(loading.script.acts):
                if act.closed:
                    closed, opened = loading.done[number - 1][1], next(opens)
                    if opened > self.low:
                        closings.append(self.model.new_fixed_size_interval_var(closed, opened - closed, ""))
        self.model.add_no_overlap(closings)

    def _pieces(self) -> None:
        """A piece's next loading waits for the one before."""
        last: dict[tuple[int, int], Loading] = {}
        for loading in sorted([*self.others, *self.stretch], key=lambda x: x.start):
            line = loading.script.task.line
            earlier = {last[line, n].number: last[line, n] for n in loading.pieces if (line, n) in last}
            for other in earlier.values():
                if loading.number in self.rows:
                    self.model.add(self.rows[loading.number][0][0] >= self._finish(other))
            for n in loading.pieces:
                last[line, n] = loading

    def _finish(self, loading: Loading) -> cp_model.LinearExprT:
        if loading.number in self.peels:
            return self.peels[loading.number][1]
        return self._off(loading) if loading.number in self.rows else loading.finish

    def _rack(self) -> None:
        if self.instance.rack is None:
            return
        intervals, demands = [], []
        for loading in self.stretch:
            if loading.number in self.peels:
                off, start = self.rows[loading.number][-1][1], self.peels[loading.number][0]
                size = self.model.new_int_var(0, self.high, "")
                intervals.append(self.model.new_interval_var(off, size, start, ""))
                demands.append(len(loading.pieces))
        for other in self.others:
            if other.peel is not None and other.peel[0] > self.low:
                intervals.append(self.model.new_fixed_size_interval_var(other.off, other.peel[0] - other.off, ""))
                demands.append(len(other.pieces))
        self.model.add_cumulative(intervals, demands, self.instance.rack)

    def _objective(self) -> None:
        instance, terms = self.instance, []
        last = self.model.new_int_var(0, self.high + max(self.rest, default=0) + 1, "")
        offs = []
        for press in instance.presses:
            mine = [x for x in self.stretch if x.press == press.index]
            if mine:
                offs += [self._off(x) for x in mine[-press.stations :]]
                for x in mine[-press.stations :]:
                    self.model.add(last >= self._off(x) + self.rest[press.index])
        orders: dict[int, list[Loading]] = defaultdict(list)
        for loading in self.stretch:
            orders[instance.order_of[loading.script.task.line]].append(loading)
        for order, loadings in orders.items():
            done = self.model.new_int_var(0, self.high, "")
            for loading in loadings:
                self.model.add(done >= self._finish(loading))
            due = instance.due[order]
            if due is not None:
                late = self.model.new_int_var(0, max(0, self.high - due) + 1, "")
                self.model.add(late >= done - due)
                terms.append(round(_LATE * instance.priority[order]) * late)
            terms.append(done)
        ends = [self._finish(x) for x in self.stretch]
        final = self.model.new_int_var(0, self.high, "")
        for end in ends:
            self.model.add(final >= end)
        self.model.minimize(total([_LAST * last, _SUM * total(offs), _FINISH * final, *terms]))

    def solve(self, effort: float, seed: int) -> list[Loading] | None:
        solver = cp_model.CpSolver()
        solver.parameters.num_workers = 2
        solver.parameters.interleave_search = True
        solver.parameters.cp_model_probing_level = 0
        solver.parameters.symmetry_level = 0
        solver.parameters.max_deterministic_time = effort
        solver.parameters.random_seed = seed
        status = solver.solve(self.model)
        self.status = solver.status_name(status)
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return None
        self.gap = solver.objective_value - solver.best_objective_bound
        return [self._read(solver, loading) for loading in self.stretch]

    def _read(self, solver: cp_model.CpSolver, loading: Loading) -> Loading:
        script = loading.script
        done: list[tuple[int, int, int]] = []
        opens: list[int] = []
        for number, (start, end) in enumerate(self.rows[loading.number]):
            who = self._who(solver, (loading.number, number))
            if script.acts[number].closed:
                opens.append(done[-1][1] + script.acts[number].closed if script.auto_open else solver.value(start))
            done.append((solver.value(start), solver.value(end), who))
        peel = None
        if loading.number in self.peels:
            start, end = self.peels[loading.number]
            peel = (solver.value(start), solver.value(end), self._who(solver, (loading.number, -1)))
        return replace(loading, done=done, opens=opens, opened=opens[-1] if opens else done[-1][0], peel=peel)

    def _who(self, solver: cp_model.CpSolver, key: tuple[int, int]) -> int:
        return next(who for who, mine in self.by[key] if solver.value(mine))


def _outside(windows: Sequence[Span], low: int, high: int) -> list[Span]:
    """The time between the windows, from `low` to `high`."""
    gaps, at = [], low
    for start, end in windows:
        if end <= low:
            continue
        if start > at:
            gaps.append((at, min(start, high)))
        at = max(at, end)
        if at >= high:
            break
    if at < high:
        gaps.append((at, high))
    return [(a, b) for a, b in gaps if a < b]
