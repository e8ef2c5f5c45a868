"""The figures of section 5 from a timed programme. Its twin, from the written rows, is in the audit."""

from __future__ import annotations

from collections.abc import Iterator

from scheduler.calendar import Span, Spans, common, length, union
from scheduler.instance import Instance
from scheduler.timetable.record import Loading, Timetable


def measure(instance: Instance, table: Timetable) -> Timetable:
    """Fill in order finishes, lateness, changes, peel waits and the second goal; the same timetable comes back."""
    finish = [0] * len(instance.order_ids)
    for loading in table.all_loadings:
        order = instance.order_of[loading.script.task.line]
        finish[order] = max(finish[order], loading.finish)
    table.order_finish = finish
    table.late = sum(
        weight * max(0, done - due)
        for weight, done, due in zip(instance.priority, finish, instance.due, strict=True)
        if due is not None
    )
    table.finish = max(finish, default=0)
    table.change_count = sum(1 for change in table.all_changes if not change.warm_up)
    table.change_seconds = sum(change.end - change.start for change in table.all_changes if not change.warm_up)
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
    for loading in table.all_loadings:
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
    return sum(length(union(_idle_spans(instance, table, before, press.index))) for press in instance.presses)


def _idle_spans(instance: Instance, table: Timetable, before: dict[int, Spans], press: int) -> Iterator[Span]:
    """When a press stands idle while pieces of its next loading still cool."""
    mine = sorted((x for x in table.all_loadings if x.press == press), key=lambda x: (x.start, x.off))
    changes = [(c.start, c.end) for c in table.all_changes if c.press == press]
    free = latest = now = 0
    for loading in mine:
        if loading.start > now:
            free, now = latest, loading.start  # loadings dressed in the same second share the gap before them
        latest = max(latest, loading.off)
        cooling = before.get(loading.number)
        if cooling and loading.start > free:
            opening = max((a for a, _ in instance.open_hours if a <= loading.start), default=0)
            gap = max([free, opening, *(end for _, end in changes if end <= loading.start)])
            yield from common(cooling, [(gap, loading.start)])


def _cooling(instance: Instance, table: Timetable) -> dict[int, Spans]:
    """For each loading, when the pieces it takes were still cooling from the loading before."""
    last: dict[tuple[tuple[str, str], int], Span] = {}
    found: dict[int, Spans] = {}
    for loading in sorted(table.all_loadings, key=lambda x: x.start):
        task = loading.script.task
        line = instance.lines[task.line].key
        if task.stage or not instance.lots[task.line].fresh:
            spans = [last[line, n] for n in loading.pieces if (line, n) in last]
            found[loading.number] = union(spans)
        if not task.last:
            cools = _cooling_span(instance, loading)
            for n in loading.pieces:
                last[line, n] = cools
    return found


def _cooling_span(instance: Instance, loading: Loading) -> Span:
    step = loading.script.task.steps[-1]
    window = instance.peel_window(step, loading.setting[0])
    return (loading.opened, loading.opened + (window.lo if window else 0))
