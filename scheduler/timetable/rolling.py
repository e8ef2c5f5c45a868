"""A long day put right to the second: exact windows roll through it, and what follows each moves forward as one.

A window is short, so that its exact answer comes soon; the stretch of the day where most hands are idle comes first.
Windows that lie far from each other are solved side by side.
"""

from __future__ import annotations

import itertools
from bisect import bisect_left
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace

from scheduler.calendar import Spans
from scheduler.instance import Instance
from scheduler.timetable.exact import Budget, retime, sooner
from scheduler.timetable.record import Change, Loading, Timetable
from scheduler.timetable.shift import drawn_forward

SIZE, STEP = 6, 3  # loadings in a window, and by how many the next one begins later: small ones bring most in a second
_SLICE = 0.02  # deterministic seconds a window may take
_REACH = 120  # seconds by which a window may begin sooner
_AROUND = 4  # loadings before and after a window that bear on its answer
_APART = 5 * SIZE  # loadings between the beginnings of windows that have nothing to do with each other
_AT_ONCE = 8  # windows that are solved before what follows them is moved

Stop = Callable[[], bool]
_Layout = tuple[tuple[int, int, int], ...]


def rolled(
    instance: Instance,
    table: Timetable,
    effort: float,
    seed: int,
    stop: Stop = lambda: False,
    workers: int = 2,
) -> Timetable:
    """A timetable no worse than the one given. `effort`: deterministic seconds for all windows together; `stop` ends
    it before. So many windows are solved at once."""
    return _Rolling(instance, better(table, drawn_forward(instance, table)), effort, seed, stop, workers).run()


@dataclass(frozen=True, slots=True)
class _Window:
    """Loadings to be timed anew, those `near` that move with what follows, and what each press has left after them."""

    first: int
    stretch: Sequence[Loading]
    near: Sequence[Loading]
    rest: Sequence[int]


_Answer = tuple[_Window, list[Loading]]


class _Rolling:
    def __init__(
        self, instance: Instance, table: Timetable, effort: float, seed: int, stop: Stop, workers: int
    ) -> None:
        self.instance, self.seed, self.stop, self.workers = instance, seed, stop, workers
        self.best, self.order, self.left = table, _in_order(table), effort
        self.settled: set[_Layout] = set()

    def run(self) -> Timetable:
        """Passes until nothing more comes of them: each begins one loading later, so that every window is tried."""
        number = idle = 0
        with ThreadPoolExecutor(self.workers) as beside:
            while idle < STEP and not self._over():
                before = self.best.value
                self._pass(number, beside)
                number, idle = number + 1, 0 if self.best.value < before else idle + 1
        return self.best

    def _over(self) -> bool:
        return self.left <= 0 or self.stop()

    def _pass(self, number: int, beside: ThreadPoolExecutor) -> None:
        """Every window once, from where hands stand idle most."""
        waiting = _most_idle_first(self.instance, self.order, number % STEP)
        while waiting and not self._over():
            chosen = self._choose(waiting)
            budgets = [Budget(min(_SLICE, self.left)) for _ in chosen]
            found = list(beside.map(lambda w, b: self._retimed(w, b, self.seed + number), chosen, budgets))
            self.left -= sum(_SLICE - budget.left for budget in budgets)
            self.settled.update(self._layout(w.first) for w, new in zip(chosen, found, strict=True) if new is None)
            answers = [(w, new) for w, new in zip(chosen, found, strict=True) if new is not None]
            self._take(sorted(answers, key=lambda answer: -answer[0].first))

    def _choose(self, waiting: list[int]) -> list[_Window]:
        """The next few windows that lie far apart, taken out of what is waiting; none that brought nothing before."""
        chosen: list[_Window] = []
        for first in list(waiting):
            if len(chosen) == _AT_ONCE:
                break
            if all(abs(first - other.first) >= _APART for other in chosen):
                waiting.remove(first)
                if self._layout(first) not in self.settled:
                    chosen.append(self._window(first))
        return chosen

    def _layout(self, first: int) -> _Layout:
        """How a window and what is around it lie to each other."""
        near = self.order[max(0, first - _AROUND) : first + SIZE + _AROUND]
        return tuple((x.number, x.start - near[0].start, x.finish - near[0].start) for x in near)

    def _window(self, first: int) -> _Window:
        stretch, later = self.order[first : first + SIZE], self.order[first + SIZE :]
        high = max(x.finish for x in stretch) + 60
        near = [x for x in later if x.start < high]
        if _interrupted(self.instance, self.best, [*stretch, *near]):
            near = []
        rest = [_after(self.order, stretch, press.index) for press in self.instance.presses]
        return _Window(first, stretch, near, rest)

    def _retimed(self, window: _Window, budget: Budget, seed: int) -> list[Loading] | None:
        """What is better for a window, and what is near it with it; None where there is nothing better."""
        inside = {x.number for x in (*window.stretch, *window.near)}
        others = [*self.best.worked, *(x for x in self.order if x.number not in inside)]
        found = retime(
            self.instance,
            window.stretch,
            others,
            self.best.changes,
            window.rest,
            budget.left,
            seed,
            _REACH,
            window.near,
            budget,
        )
        moved = {x.number for x in window.near}
        was = _worth(self.instance, [*window.stretch, *window.near], moved, window.rest)
        return found if found is not None and _worth(self.instance, found, moved, window.rest) < was else None

    def _take(self, answers: Sequence[_Answer]) -> None:
        """Put the answers in, all that follows each moved forward, if the whole is no worse for it; else one by one."""
        put = self._put_in(answers) if answers else None
        if put is not None and put.value <= self.best.value:
            self.best, self.order = put, _in_order(put)
        elif len(answers) > 1:
            for answer in answers:
                self._take([answer])
        else:
            self.settled.update(self._layout(window.first) for window, _ in answers)

    def _put_in(self, answers: Sequence[_Answer]) -> Timetable | None:
        table, warm = self.best, dict[Change, int]()
        for window, found in answers:
            near = {x.number: x.start for x in window.near}
            forward = next((near[x.number] - x.start for x in found if x.number in near), 0)
            table = put_in(self.instance, table, [x for x in found if x.number not in near])
            table, warm = _nearer(table, self.order[window.first + SIZE :], forward, warm)
        return drawn_forward(self.instance, table, warm)


def better(table: Timetable, other: Timetable | None) -> Timetable:
    """The better of two, the first where they are alike."""
    return other if other is not None and other.value < table.value else table


def _most_idle_first(instance: Instance, order: Sequence[Loading], offset: int) -> list[int]:
    """Where windows begin, by place in the order of dressing: where hands stand idle most, first."""
    busy: list[tuple[int, int]] = []  # moment, seconds of hand work that begin there
    for loading in order:
        busy += [(start, end - start) for start, end, _ in [*loading.done, *([loading.peel] if loading.peel else [])]]
    busy.sort()
    moments = [at for at, _ in busy]
    done = [0, *itertools.accumulate(seconds for _, seconds in busy)]
    ranked = []
    for first in range(offset, max(offset + 1, len(order) - SIZE // 2), STEP):
        stretch = order[first : first + SIZE]
        if len(stretch) < 2:
            continue
        start, end = stretch[0].start, stretch[-1].start
        there = sum(_common(who.windows, start, end) for who in instance.people)
        ranked.append((done[bisect_left(moments, end)] - done[bisect_left(moments, start)] - there, first))
    return [first for _, first in sorted(ranked)]


def _common(spans: Spans, start: int, end: int) -> int:
    return sum(max(0, min(b, end) - max(a, start)) for a, b in spans)


def _in_order(table: Timetable) -> list[Loading]:
    return sorted(table.loadings, key=lambda x: (x.start, x.press, x.number))


def _nearer(
    table: Timetable, later: Sequence[Loading], forward: int, warm: dict[Change, int]
) -> tuple[Timetable, dict[Change, int]]:
    """All that comes later so many seconds sooner, whether its calendar takes it or not; `warm`: when warm-ups that
    were moved begin."""
    if not forward:
        return table, warm
    numbers, start = {x.number for x in later}, later[0].start
    loadings = [sooner(x, forward) if x.number in numbers else x for x in table.loadings]
    changes, stand = [], dict[Change, int]()
    for change in table.changes:
        was = warm.get(change, change.start)
        if change.start >= start:
            change = replace(change, start=change.start - forward, end=change.end - forward)
        if change.warm_up:
            stand[change] = was
        changes.append(change)
    return replace(table, loadings=loadings, changes=changes), stand


def _worth(
    instance: Instance, loadings: Sequence[Loading], moved: set[int], rest: Sequence[int]
) -> tuple[float, int, int]:
    """How good a window is, the less the better: late orders, what follows or the presses' ends, and those in all."""
    done: dict[int, int] = {}
    offs: dict[int, int] = {}
    for loading in loadings:
        order = instance.order_of[loading.script.task.line]
        done[order] = max(done.get(order, 0), loading.finish)
        offs[loading.press] = max(offs.get(loading.press, 0), loading.off)
    late = 0.0
    for order, finish in done.items():
        due = instance.due[order]
        late += instance.priority[order] * max(0, finish - due) if due is not None else 0
    follows = [x.start for x in loadings if x.number in moved]
    last = min(follows) if follows else max(off + rest[press] for press, off in offs.items())
    return late, last, sum(x.off for x in loadings)


def _interrupted(instance: Instance, table: Timetable, loadings: Sequence[Loading]) -> bool:
    """Whether a break or a change lies in the time of some loadings, so that they cannot just be moved."""
    start, end = min(x.start for x in loadings) - _REACH, max(x.finish for x in loadings)
    spans = [*(p.windows for p in instance.presses), *(w.windows for w in instance.people)]
    edges = [edge for windows in spans for span in windows for edge in span]
    edges += [edge for c in table.changes for edge in (c.start, c.end)]
    return any(start < edge < end for edge in edges)


def _after(order: Sequence[Loading], stretch: Sequence[Loading], press: int) -> int:
    """Seconds a press still works after a stretch."""
    mine = [x.off for x in order if x.press == press]
    return max(mine) - max((x.off for x in stretch if x.press == press), default=max(mine)) if mine else 0


def put_in(instance: Instance, table: Timetable, found: Sequence[Loading]) -> Timetable:
    """The timetable with some loadings timed anew; it is not measured."""
    new = {loading.number: loading for loading in found}
    changes = [_moved(instance, change, table, new) for change in table.changes]
    loadings = [new.get(x.number, x) for x in table.loadings]
    return replace(table, loadings=loadings, changes=sorted(changes, key=lambda c: (c.start, c.press)))


def _moved(instance: Instance, change: Change, table: Timetable, new: dict[int, Loading]) -> Change:
    """A change begins when what lay on the press before it is off; warm-ups stay."""
    if change.warm_up:
        return change
    before = [x for x in table.loadings if x.press == change.press and x.off <= change.start]
    if not any(x.number in new for x in before):
        return change
    start = max(new.get(x.number, x).off for x in before)
    opens = max((a for a, _ in instance.presses[change.press].open if a <= change.start), default=0)
    start = max(start, min(opens, change.start))
    return replace(change, start=start, end=start + change.end - change.start)
