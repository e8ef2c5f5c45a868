"""A stretch of the timetable put right to the second by CP-SAT, with the order of loadings on each press kept.

Every hand row is an interval of its own, so that between loading a platen and laying its layers a person may
turn to another press; that is where the rhythm of one person with several presses comes from. What lies
outside the stretch, before it or after, stands as it is.
"""

from __future__ import annotations

import itertools
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace

from ortools.sat.python import cp_model

from scheduler.calendar import Span, union
from scheduler.instance import Instance
from scheduler.linear import new_solver, total
from scheduler.timetable.acts import FAR
from scheduler.timetable.record import Change, Loading
from scheduler.timetable.shift import free_from, platens

# Weights: late seconds, the last piece's finish, the press that will end last, every press's end.
_LATE, _FINISH, _LAST, _SUM = 100_000, 1000, 20, 10


@dataclass
class Budget:
    """Deterministic seconds that are left."""

    left: float


def retime(
    instance: Instance,
    stretch: Sequence[Loading],
    others: Sequence[Loading],
    changes: Sequence[Change],
    rest: Sequence[int],
    effort: float,
    seed: int = 0,
    reach: int = 7200,
    near: Sequence[Loading] = (),
    budget: Budget | None = None,
) -> list[Loading] | None:
    """New times for the loadings of `stretch`, or None where nothing was found.

    `others` and their times stand, but for those of `near`, which lie after the stretch and come back with it: they
    move forward as one, by as much as the stretch makes room for, and that is what counts. `rest[press]` is the work
    in seconds a press still has after the stretch. `effort`: deterministic seconds, taken from `budget` as they are
    spent. `reach`: by how many seconds the stretch may begin sooner than it does.
    """
    exact = _Exact(instance, stretch, others, changes, rest, reach, near)
    found = exact.solve(effort, seed)
    if budget is not None:
        budget.left -= exact.spent
    return found


class _Exact:
    def __init__(
        self,
        instance: Instance,
        stretch: Sequence[Loading],
        others: Sequence[Loading],
        changes: Sequence[Change],
        rest: Sequence[int],
        reach: int,
        near: Sequence[Loading] = (),
    ) -> None:
        self.instance, self.rest = instance, rest
        self.stretch = sorted(stretch, key=lambda x: (x.start, x.press))
        self.model = cp_model.CpModel()
        self.low = max(0, min(x.start for x in self.stretch) - reach)
        self.high = max(x.finish for x in self.stretch) + 60
        self.others = [*near, *(x for x in others if x.finish > self.low and x.start < self.high)]
        self.near = {x.number: x for x in near}
        self.forward = self.model.new_int_var(0, reach if near else 0, "")
        self.model.add_hint(self.forward, 0)
        self.changes = changes
        self.rows: dict[int, list[tuple[cp_model.IntVar, cp_model.IntVar]]] = {}
        self.peels: dict[int, tuple[cp_model.IntVar, cp_model.IntVar]] = {}
        self.hands: list[list[cp_model.IntervalVar]] = [[] for _ in instance.people]
        self.by: dict[tuple[int, int], list[tuple[int, cp_model.IntVar]]] = {}
        for loading in self.stretch:
            self._loading(loading)
        for loading in near:
            self.model.add(self._on(loading) >= free_from(instance, loading))
        self._people()
        self._presses()
        self._pieces()
        self._rack()
        self._objective()

    def _time(self, hint: int) -> cp_model.IntVar:
        var = self.model.new_int_var(self.low, self.high, "")
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
        self.model.add(rows[0][0] >= free_from(self.instance, loading))
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
                if other.number in self.near:
                    self.hands[person].append(self._fixed(other, start, end))
                elif end > self.low:
                    busy[person].append((start, end))
        for who in self.instance.people:
            for a, b in union([*busy[who.index], *_outside(who.windows, self.low, self.high)]):
                self.hands[who.index].append(self.model.new_fixed_size_interval_var(a, b - a, ""))
            self.model.add_no_overlap(self.hands[who.index])

    def _fixed(self, other: Loading, start: int, end: int) -> cp_model.IntervalVar:
        """A stretch of time of a loading that stands, or moves forward with all that are near."""
        return self.model.new_fixed_size_interval_var(self._at(other, start), end - start, "")

    def _at(self, other: Loading, moment: int) -> cp_model.LinearExprT:
        return moment - self.forward if other.number in self.near else moment

    def _presses(self) -> None:
        for press in self.instance.presses:
            mine = [x for x in self.stretch if x.press == press.index]
            others = [x for x in self.others if x.press == press.index]
            if not mine:
                continue
            for lane in platens(press, [*mine, *others]):
                self._in_turn(lane)
            for before, loading in itertools.pairwise(mine):
                self.model.add(self._on(loading) >= self._on(before))
            self._before_changes(mine)
            lies = []
            for loading in mine:
                rows = self.rows[loading.number]
                size = self.model.new_int_var(1, self.high - self.low, "")
                lies.append(self.model.new_interval_var(rows[0][0], size, rows[-1][1], ""))
            for span in _outside(press.windows, self.low, self.high):
                for interval in lies:
                    closed = self.model.new_fixed_size_interval_var(span[0], span[1] - span[0], "")
                    self.model.add_no_overlap([interval, closed])
            if press.stations > 1:
                self._one_heat(mine, others)

    def _in_turn(self, lane: Sequence[Loading]) -> None:
        """A platen is free before it is dressed again, and the setting stands; changes between take their time."""
        for number, loading in enumerate(lane):
            before = lane[number - 1] if number else None
            between = [
                c
                for c in self.changes
                if c.press == loading.press and c.end <= loading.start and (before is None or c.start >= before.off)
            ]
            if before is not None and self._moves(before, loading):
                self.model.add(self._on(loading) >= self._off(before) + sum(c.end - c.start for c in between))
            if loading.number in self.rows:
                for change in between:
                    if change.warm_up or change.start < self.low:
                        self.model.add(self._on(loading) >= change.end)
                    elif before is None:
                        self.model.add(self._on(loading) >= self.low + change.end - change.start)
                self._after_all(loading, between)

    def _moves(self, before: Loading, loading: Loading) -> bool:
        """Whether the time between two loadings is not settled."""
        fixed = before.number not in self.rows and loading.number not in self.rows
        return not fixed or (before.number in self.near) != (loading.number in self.near)

    def _before_changes(self, mine: Sequence[Loading]) -> None:
        """What is off before a change that stands with all that follows it is off before it then too."""
        last = max(x.start for x in mine)
        starts = [c.start for c in self.changes if c.press == mine[0].press and c.start > last]
        for loading in mine if starts else ():
            self.model.add(self._off(loading) <= min(starts))

    def _after_all(self, loading: Loading, between: Sequence[Change]) -> None:
        """A change begins when every platen is free."""
        for change in between:
            if change.warm_up or change.start < self.low:
                continue
            for other in [*self.others, *self.stretch]:
                if other.press == loading.press and other.off <= change.start and self._moves(other, loading):
                    self.model.add(self._on(loading) >= self._off(other) + change.end - change.start)

    def _off(self, loading: Loading) -> cp_model.LinearExprT:
        rows = self.rows.get(loading.number)
        return rows[-1][1] if rows else self._at(loading, loading.off)

    def _on(self, loading: Loading) -> cp_model.LinearExprT:
        rows = self.rows.get(loading.number)
        return rows[0][0] if rows else self._at(loading, loading.start)

    def _one_heat(self, mine: Sequence[Loading], others: Sequence[Loading]) -> None:
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
        for loading in others:
            opens = iter(loading.opens)
            for number, act in enumerate(loading.script.acts):
                if act.closed:
                    closed, opened = loading.done[number - 1][1], next(opens)
                    if opened > self.low:
                        closings.append(self._fixed(loading, closed, opened))
        self.model.add_no_overlap(closings)

    def _pieces(self) -> None:
        """A piece's next loading waits for the one before."""
        last: dict[tuple[int, int], Loading] = {}
        for loading in sorted([*self.others, *self.stretch], key=lambda x: x.start):
            line = loading.script.task.line
            earlier = {last[line, n].number: last[line, n] for n in loading.pieces if (line, n) in last}
            for other in earlier.values():
                if self._moves(other, loading):
                    self.model.add(self._on(loading) >= self._finish(other))
            for n in loading.pieces:
                last[line, n] = loading

    def _finish(self, loading: Loading) -> cp_model.LinearExprT:
        if loading.number in self.peels:
            return self.peels[loading.number][1]
        return self._off(loading) if loading.number in self.rows else self._at(loading, loading.finish)

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
                intervals.append(self._fixed(other, other.off, other.peel[0]))
                demands.append(len(other.pieces))
        self.model.add_cumulative(intervals, demands, self.instance.rack)

    def _objective(self) -> None:
        """Late orders, then the end of the stretch and what is left after it, then every press's and order's end."""
        instance = self.instance
        last = self.model.new_int_var(0, self.high + max(self.rest, default=0) + 1, "")
        offs = []
        for press in instance.presses:
            mine = [x for x in self.stretch if x.press == press.index]
            offs += [self._off(x) for x in mine[-press.stations :]]
            for x in mine[-press.stations :]:
                self.model.add(last >= self._off(x) + self.rest[press.index])
        middle = any(self.rest)
        final = self.model.new_int_var(0, self.high, "")
        for loading in self.stretch:
            self.model.add(final >= (self._off(loading) if middle else self._finish(loading)))
        first, second = (_FINISH, _LAST) if middle else (_LAST, _FINISH)
        terms = [-10 * _FINISH * self.forward] if self.near else [first * last, second * final]
        self.model.minimize(total([*terms, _SUM * total(offs), *self._orders()]))

    def _orders(self) -> list[cp_model.LinearExprT]:
        """What the orders' last loadings of the stretch cost: late seconds dear, seconds cheap."""
        orders: dict[int, list[Loading]] = defaultdict(list)
        for loading in self.stretch:
            orders[self.instance.order_of[loading.script.task.line]].append(loading)
        terms: list[cp_model.LinearExprT] = []
        for order, loadings in orders.items():
            done = self.model.new_int_var(0, self.high, "")
            for loading in loadings:
                self.model.add(done >= self._finish(loading))
            due = self.instance.due[order]
            if due is not None and self.high > due:
                late = self.model.new_int_var(0, self.high - due, "")
                self.model.add(late >= done - due)
                terms.append(round(_LATE * self.instance.priority[order]) * late)
            terms.append(done)
        return terms

    def solve(self, effort: float, seed: int) -> list[Loading] | None:
        solver = new_solver()
        if self.others:  # a short window: propagation alone, soon done
            solver.parameters.num_workers = 1
            solver.parameters.linearization_level = 0
        else:
            solver.parameters.num_workers = 2
            solver.parameters.interleave_search = True
        solver.parameters.cp_model_probing_level = 0
        solver.parameters.symmetry_level = 0
        solver.parameters.max_deterministic_time = effort
        solver.parameters.random_seed = seed
        status = solver.solve(self.model)
        self.spent = max(0.001, solver.response_proto.deterministic_time)
        if status not in (cp_model.OPTIMAL, cp_model.FEASIBLE):
            return None
        forward = solver.value(self.forward)
        return [*(self._read(solver, x) for x in self.stretch), *(sooner(x, forward) for x in self.near.values())]

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


def sooner(loading: Loading, seconds: int) -> Loading:
    """The loading so many seconds sooner, row for row."""
    peel = None
    if loading.peel is not None:
        peel = (loading.peel[0] - seconds, loading.peel[1] - seconds, loading.peel[2])
    return replace(
        loading,
        done=[(start - seconds, end - seconds, who) for start, end, who in loading.done],
        opens=[moment - seconds for moment in loading.opens],
        opened=loading.opened - seconds,
        peel=peel,
    )


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
