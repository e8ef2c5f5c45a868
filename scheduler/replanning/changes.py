"""What planning again changes: for orders, presses and people, old beside new."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime

from models.day import Day
from models.log import Entry
from models.plan import (
    HAND_ROWS,
    Changes,
    Errand,
    Finish,
    OrderChange,
    PersonChange,
    Plan,
    PressChange,
    Row,
    WorkChange,
)
from scheduler.logbook.history import Key
from scheduler.logbook.loadings import Loading, loadings_of
from scheduler.replanning.kept import in_common
from scheduler.replanning.standing import Carried

Work = tuple[Key, str, int]  # order line, placement, first operation


def changes_of(
    carried: Carried,
    old: Plan,
    old_rows: Sequence[Row],
    before: str,
    entries: Sequence[Entry],
    finishes: Sequence[Finish],
    rows: Sequence[Row],
) -> Changes:
    """What changes. `before`: the sha256 of the timetable planned again; `entries`: the log's lines since it was made;
    `finishes` and `rows` are the new plan's."""
    at = carried.state.at
    taken = {item.loading.number for item in carried.taken}
    was = [x for x in carried.course.loadings if x.number not in taken and x.start >= at and _wanted(carried, x)]
    now = [x for x in loadings_of(rows) if x.number not in taken]
    presses = tuple(_presses(carried.day, was, now))
    return Changes(
        at=at,
        before=before,
        moments=(*(old.changes.moments if old.changes else ()), at),
        log=tuple(in_words(entry) for entry in entries),
        orders=tuple(_orders(carried, old, finishes)),
        presses=presses,
        people=tuple(_people(carried.day, at, old_rows, rows)),
        kept=sum(press.kept for press in presses),
        left=len(was),
        logged=carried.logged,
    )


def in_words(entry: Entry) -> str:
    """A line of the log as people say it."""
    named = [entry.press, entry.person, entry.order, entry.line and f"line {entry.line}"]
    told = [part for part in named if part]
    pieces = ", ".join(entry.pieces[:5]) + (f" and {len(entry.pieces) - 5} more" if len(entry.pieces) > 5 else "")
    until = f"until {entry.until:%Y-%m-%d %H:%M}" if entry.until else ""
    note = f"({entry.note})" if entry.note else ""
    return " ".join(part for part in (f"{entry.at:%H:%M:%S}", entry.what, *told, pieces, until, note) if part)


def _wanted(carried: Carried, loading: Loading) -> bool:
    return (loading.order, loading.line) not in carried.state.cancelled


def _orders(carried: Carried, old: Plan, finishes: Sequence[Finish]) -> Iterator[OrderChange]:
    was = {order.order: order.finish for order in old.orders}
    now = {order.order: order.finish for order in finishes}
    for key, order in carried.day.orders.items():
        gone = all(line.key in carried.state.cancelled for line in order.lines)
        done = None if gone else now.get(key)
        holds = None if order.due is None or done is None else done <= order.due
        yield OrderChange(order=key, customer=order.customer, due=order.due, was=was.get(key), now=done, holds=holds)


def _work(loading: Loading) -> Work:
    first = loading.steps[0][1] if loading.steps else 1
    return (loading.order, loading.line), loading.placement, first


def _presses(day: Day, was: Sequence[Loading], now: Sequence[Loading]) -> Iterator[PressChange]:
    less: dict[str, Counter[Work]] = {press: Counter() for press in day.presses}
    more: dict[str, Counter[Work]] = {press: Counter() for press in day.presses}
    for loadings, counts, others in ((was, less, more), (now, more, less)):
        for loading in loadings:
            counts[loading.press][_work(loading)] += len(loading.pieces)
            others[loading.press][_work(loading)] -= len(loading.pieces)
    moved = _moves(less, more)
    for press in day.presses:
        lists = [[_work(x) for x in loadings if x.press == press] for loadings in (was, now)]
        yield PressChange(
            press=press,
            added=_told(more[press]),
            dropped=_told(less[press]),
            moved=tuple(change for change in moved[press] if change.pieces),
            kept=in_common(*lists),
        )


def _moves(less: Mapping[str, Counter[Work]], more: Mapping[str, Counter[Work]]) -> dict[str, list[WorkChange]]:
    """What one press has less and another more, taken off both counts."""
    moved: dict[str, list[WorkChange]] = {press: [] for press in more}
    for to, mine in more.items():
        for work in [w for w, n in mine.items() if n > 0]:
            for come_from, theirs in less.items():
                pieces = min(mine[work], theirs[work])
                if come_from != to and pieces > 0:
                    mine[work] -= pieces
                    theirs[work] -= pieces
                    moved[to].append(_change(work, pieces, come_from))
    return moved


def _told(counts: Counter[Work]) -> tuple[WorkChange, ...]:
    return tuple(_change(work, pieces) for work, pieces in counts.items() if pieces > 0)


def _change(work: Work, pieces: int, press: str | None = None) -> WorkChange:
    (order, line), placement, operation = work
    return WorkChange(order=order, line=line, placement=placement, operation=operation, pieces=pieces, press=press)


def _people(day: Day, at: datetime, old: Sequence[Row], new: Sequence[Row]) -> Iterator[PersonChange]:
    for person in day.people:
        yield PersonChange(person=person, was=_errand(old, person, at), now=_errand(new, person, at))


def _errand(rows: Sequence[Row], person: str, at: datetime) -> Errand | None:
    mine = (row for row in rows if row.person == person and row.start >= at and row.what in HAND_ROWS)
    row = min(mine, key=lambda r: r.start, default=None)
    if row is None:
        return None
    return Errand(
        start=row.start,
        what=row.what,
        press=row.press,
        order=row.order or "",
        line=row.line or "",
        placement=row.placement or "",
    )
