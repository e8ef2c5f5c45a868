"""The figures of section 5 from a timed programme. Its twin, from the written rows, is in the audit."""

from __future__ import annotations

from scheduler.calendar import Span, common, length, union
from scheduler.instance import Instance
from scheduler.timetable.record import Loading, Timetable


def measure(instance: Instance, table: Timetable) -> Timetable:
    """Fill in order finishes, lateness, changes, peel waits and the second goal; the same timetable comes back."""
    finish = [0] * len(instance.order_ids)
    for loading in table.loadings:
        order = instance.order_of[loading.script.task.line]
        if loading.done[-1][1] and loading.finish > finish[order]:
            finish[order] = loading.finish
    table.order_finish = finish
    table.late = sum(
        weight * max(0, done - due)
        for weight, done, due in zip(instance.priority, finish, instance.due, strict=True)
        if due is not None
    )
    table.finish = max(finish, default=0)
    table.change_count = sum(1 for change in table.changes if not change.warm_up)
    table.change_seconds = sum(change.end - change.start for change in table.changes if not change.warm_up)
    table.peel_wait = _on_press_waits(table) + _idle_waits(instance, table)
    goals = instance.day.shop.goals
    table.work = (
        goals.finish * table.finish
        + goals.change * 60 * table.change_count
        + table.change_seconds
        + goals.peel_wait * table.peel_wait
    )
    return table


def _on_press_waits(table: Timetable) -> int:
    """Press-seconds loadings stand open on the platen before a peel."""
    total = 0
    for loading in table.loadings:
        opens = iter(loading.opens)
        for act, (start, _, _) in zip(loading.script.acts, loading.done, strict=False):
            if act.closed:
                opened = next(opens)
                if act.what == "peel":
                    total += start - opened
    return total


def _idle_waits(instance: Instance, table: Timetable) -> int:
    """Press-seconds presses stand idle, the same day, while their next pieces are still cooling."""
    before = _cooling(instance, table)
    total = 0
    for press in instance.presses:
        busy = [(x.start, x.off, x) for x in table.loadings if x.press == press.index]
        busy.sort(key=lambda b: b[:2])
        pauses = [(c.start, c.end) for c in table.changes if c.press == press.index]
        free = 0
        for start, off, loading in busy:
            cooling = before.get(loading.number)
            if cooling and start > free:
                gap_start = max([free, *(end for _, end in pauses if end <= start)])
                opening = max((a for a, b in instance.open_hours if a <= start), default=0)
                total += length(common(cooling, [(max(gap_start, opening), start)]))
            free = max(free, off)
    return total


def _cooling(instance: Instance, table: Timetable) -> dict[int, tuple[Span, ...]]:
    """For each loading, when the pieces it takes were still cooling from the loading before."""
    last: dict[tuple[int, int], Span] = {}
    found: dict[int, tuple[Span, ...]] = {}
    for loading in sorted(table.loadings, key=lambda x: x.start):
        task = loading.script.task
        if task.stage:
            spans = [last[(task.line, n)] for n in loading.pieces if (task.line, n) in last]
            found[loading.number] = union(spans)
        if not task.last:
            cools = _cooling_span(instance, loading)
            for n in loading.pieces:
                last[(task.line, n)] = cools
    return found


def _cooling_span(instance: Instance, loading: Loading) -> Span:
    step = loading.script.task.steps[-1]
    window = instance.peel_window(step, loading.setting[0])
    return (loading.opened, loading.opened + (window.lo if window else 0))
