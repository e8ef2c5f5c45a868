"""A timed programme as the rows of timetable.csv (contract, section 7)."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from models.operation import Operation
from models.plan import CLOSED_ROWS, Row, What
from scheduler.instance import Instance
from scheduler.timetable.record import Change, Loading, Timetable

_ORDER: dict[What, int] = {"change": 0, "load": 1, "prepress": 2, "align": 3, "dwell": 4, "peel": 5, "unload": 6}


def rows_of(instance: Instance, table: Timetable, worked: Sequence[Row] = ()) -> list[Row]:
    """Every row of the timetable, by start; loadings are numbered by when they are dressed, from 1 or on from those
    of `worked`, rows that stood before and come with it."""
    found = [*worked, *(_change(instance, change) for change in table.changes)]
    first = 1 + max((row.loading or 0 for row in worked), default=0)
    by_start = sorted(table.loadings, key=lambda x: (x.start, x.press, x.number))
    for number, loading in enumerate(by_start, first):
        found.extend(_loading(instance, loading, number))
    return sorted(found, key=lambda r: (r.start, r.end, r.loading or 0, _ORDER[r.what], r.press or ""))


def _change(instance: Instance, change: Change) -> Row:
    return Row(
        start=instance.day.at(change.start),
        end=instance.day.at(change.end),
        what="change",
        press=instance.presses[change.press].id,
        temperature=change.setting[0],
        pressure=change.setting[1],
    )


def _loading(instance: Instance, loading: Loading, number: int) -> Iterator[Row]:
    task = loading.script.task
    opens = iter(loading.opens)
    before = 0
    for act, (start, end, person) in zip(loading.script.acts, loading.done, strict=True):
        operation = task.steps[act.step].operation
        if act.closed:
            closed = operation if act.pre or act.what != "align" else task.steps[act.step - 1].operation
            what: What = "prepress" if act.pre else "dwell"
            yield _row(instance, loading, number, what, before, next(opens), None, closed)
        what = act.what
        yield _row(instance, loading, number, what, start, end, person, operation)
        before = end
    if loading.peel is not None:
        start, end, person = loading.peel
        yield _row(instance, loading, number, "peel", start, end, person, task.steps[-1].operation, off_press=True)


def _row(
    instance: Instance,
    loading: Loading,
    number: int,
    what: What,
    start: int,
    end: int,
    person: int | None,
    operation: Operation,
    off_press: bool = False,
) -> Row:
    line = instance.lines[loading.script.task.line]
    laid = what in ("align", "dwell", "peel")
    return Row(
        start=instance.day.at(start),
        end=instance.day.at(end),
        what=what,
        press=None if off_press else instance.presses[loading.press].id,
        person=None if person is None or what in CLOSED_ROWS else instance.people[person].id,
        loading=number,
        pieces=tuple(line.piece(n) for n in loading.pieces),
        order=line.order,
        line=line.line,
        placement=operation.placement,
        operation=operation.number,
        layers=operation.layers if laid else (),
        temperature=loading.setting[0],
        pressure=loading.setting[1],
    )
