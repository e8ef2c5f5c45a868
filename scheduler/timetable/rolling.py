"""A long day put right to the second: exact windows roll through it, and what follows each moves forward as one.

A window is short, so that its exact answer comes soon; the stretch of the day where most hands are idle comes first.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from scheduler.calendar import Spans
from scheduler.instance import Instance
from scheduler.timetable.exact import Budget, retime, sooner
from scheduler.timetable.record import Change, Loading, Timetable
from scheduler.timetable.shift import drawn_forward

SIZE, STEP = 8, 5  # loadings in a window, and by how many the next one begins later
_SLICE = 0.03  # deterministic seconds a window may take
_PASSES = 3
_REACH = 120  # seconds by which a window may begin sooner


def rolled(instance: Instance, table: Timetable, effort: float, seed: int) -> Timetable:
    """A timetable no worse than the one given. `effort`: deterministic seconds for all windows together."""
    best = better(table, drawn_forward(instance, table))
    budget = Budget(effort)
    for number in range(_PASSES):
        before = best
        for first in _most_idle_first(instance, best, number * SIZE // _PASSES):
            if budget.left <= 0:
                return best
            found = _window(instance, best, first, budget, seed + number)
            best = found if found is not None and found.value <= best.value else best
        if best is before:
            break
    return best


def better(table: Timetable, other: Timetable | None) -> Timetable:
    """The better of two, the first where they are alike."""
    return other if other is not None and other.value < table.value else table


def _most_idle_first(instance: Instance, table: Timetable, offset: int) -> list[int]:
    """Where windows begin, by place in the order of dressing: where hands stand idle most, first."""
    order = _in_order(table)
    busy: list[tuple[int, int]] = []  # moment, seconds of hand work that begin there
    for loading in order:
        busy += [(start, end - start) for start, end, _ in [*loading.done, *([loading.peel] if loading.peel else [])]]
    ranked = []
    for first in range(offset, max(offset + 1, len(order) - SIZE // 2), STEP):
        stretch = order[first : first + SIZE]
        if len(stretch) < 2:
            continue
        start, end = stretch[0].start, stretch[-1].start
        there = sum(_common(who.windows, start, end) for who in instance.people)
        ranked.append((sum(n for at, n in busy if start <= at < end) - there, first))
    return [first for _, first in sorted(ranked)]


def _common(spans: Spans, start: int, end: int) -> int:
    return sum(max(0, min(b, end) - max(a, start)) for a, b in spans)


def _in_order(table: Timetable) -> list[Loading]:
    return sorted(table.loadings, key=lambda x: (x.start, x.press, x.number))


def _window(instance: Instance, table: Timetable, first: int, budget: Budget, seed: int) -> Timetable | None:
    """The timetable with one window put right; None where that brought nothing."""
    order = _in_order(table)
    stretch, later = order[first : first + SIZE], order[first + SIZE :]
    high = max(x.finish for x in stretch) + 60
    near = [x for x in later if x.start < high]
    if _interrupted(instance, table, [*stretch, *near]):
        near = []
    moved = {x.number for x in near}
    others = [*table.worked, *order[:first], *(x for x in later if x.number not in moved)]
    rest = [_after(order, stretch, press.index) for press in instance.presses]
    effort = min(_SLICE, budget.left)
    found = retime(instance, stretch, others, table.changes, rest, effort, seed, _REACH, near, budget)
    if found is None or _worth(instance, found, moved, rest) >= _worth(instance, [*stretch, *near], moved, rest):
        return None
    forward = near[0].start - next(x.start for x in found if x.number == near[0].number) if near else 0
    put = put_in(instance, table, [x for x in found if x.number not in moved])
    return drawn_forward(instance, *_nearer(put, later, forward))


def _nearer(table: Timetable, later: Sequence[Loading], forward: int) -> tuple[Timetable, dict[Change, int]]:
    """All that comes later so many seconds sooner, whether its calendar takes it or not; and when warm-ups begin."""
    if not forward:
        return table, {}
    numbers, start = {x.number for x in later}, later[0].start
    loadings = [sooner(x, forward) if x.number in numbers else x for x in table.loadings]
    changes, warm = [], {}
    for change in table.changes:
        if change.start >= start:
            change, was = replace(change, start=change.start - forward, end=change.end - forward), change.start
            if change.warm_up:
                warm[change] = was
        changes.append(change)
    return replace(table, loadings=loadings, changes=changes), warm


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
