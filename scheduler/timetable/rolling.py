"""A long day put right to the second: exact windows that roll through it, what follows drawn forward."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from scheduler.instance import Instance
from scheduler.timetable.exact import retime
from scheduler.timetable.measure import measure
from scheduler.timetable.record import Change, Loading, Timetable
from scheduler.timetable.shift import drawn_forward

SIZE, STEP = 60, 40  # loadings in a window, and by how many the next one begins later
_REACH = 300  # seconds


def rolled(instance: Instance, table: Timetable, effort: float, seed: int) -> Timetable:
    """A timetable no worse than the one given. `effort`: deterministic seconds for all windows together."""
    best = min(table, drawn_forward(instance, table), key=lambda t: t.value)
    count = len(table.loadings)
    starts = range(0, max(1, count - SIZE + STEP), STEP)
    for first in starts:
        found = _window(instance, best, first, effort / len(starts), seed)
        if found is not None and found.value <= best.value:
            best = found
    return best


def _window(instance: Instance, table: Timetable, first: int, effort: float, seed: int) -> Timetable | None:
    order = sorted(table.loadings, key=lambda x: (x.start, x.press))
    stretch = order[first : first + SIZE]
    others = [*table.worked, *order[:first], *order[first + SIZE :]]
    rest = [_after(order, stretch, press.index) for press in instance.presses]
    found = retime(instance, stretch, others, table.changes, rest, effort, seed, _REACH)
    return None if found is None else put_in(instance, table, found)


def _after(order: Sequence[Loading], stretch: Sequence[Loading], press: int) -> int:
    """Seconds a press still works after a stretch."""
    mine = [x.off for x in order if x.press == press]
    return max(mine) - max((x.off for x in stretch if x.press == press), default=max(mine)) if mine else 0


def put_in(instance: Instance, table: Timetable, found: Sequence[Loading]) -> Timetable:
    """The timetable with some loadings timed anew and all of it as early as it can be."""
    new = {loading.number: loading for loading in found}
    changes = [_moved(instance, change, table, new) for change in table.changes]
    loadings = [new.get(x.number, x) for x in table.loadings]
    put = replace(table, loadings=loadings, changes=sorted(changes, key=lambda c: (c.start, c.press)))
    return min(measure(instance, put), drawn_forward(instance, put), key=lambda t: t.value)


def _moved(instance: Instance, change: Change, table: Timetable, new: dict[int, Loading]) -> Change:
    """A change begins when what lay on the press before it is off; warm-ups stay."""
    before = [x for x in table.loadings if x.press == change.press and x.off <= change.start]
    if change.warm_up or not any(x.number in new for x in before):
        return change
    start = max(new.get(x.number, x).off for x in before)
    opens = max((a for a, _ in instance.presses[change.press].open if a <= change.start), default=0)
    start = max(start, min(opens, change.start))
    return replace(change, start=start, end=start + change.end - change.start)
