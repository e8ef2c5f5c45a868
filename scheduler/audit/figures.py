"""What a plan comes to, measured on its rows alone (contract section 5)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from models.day import Day
from models.plan import HAND_ROWS, Row
from scheduler.audit.closings import earliest_peel
from scheduler.audit.hours import joined
from scheduler.audit.pieces import Recipes
from scheduler.audit.table import Closing, Loading, Table


@dataclass(frozen=True, slots=True)
class Figures:
    """Minutes of lateness (weighted), of the second goal, of changing and of waiting; when all is done.

    `finishes` gives each order's last moment; `press_min` and `person_min` busy minutes.
    """

    late_min: float
    work_min: float
    changes: int
    change_min: float
    peel_wait_min: float
    finish: datetime
    finishes: dict[str, datetime]
    press_min: dict[str, float]
    person_min: dict[str, float]


def measure(day: Day, rows: Sequence[Row]) -> Figures:
    """The goals of a plan from its rows. Times in minutes; nothing is judged."""
    table = Table(day, rows)
    return figures(table, Recipes(table))


def figures(table: Table, recipes: Recipes) -> Figures:
    """The same, of rows already grouped."""
    day = table.day
    done = _finishes(table)
    last = max(done.values(), default=0)
    count, changing = _changes(table)
    waiting = (_peel_waits(table) + _idle_waits(table, recipes)) / 60
    goals = day.shop.goals
    late = sum(order.priority * _late(day, order.due, done.get(key)) for key, order in day.orders.items())
    work = goals.finish * last / 60 + goals.change * count + changing / 60 + goals.peel_wait * waiting
    return Figures(
        late_min=late,
        work_min=work,
        changes=count,
        change_min=changing / 60,
        peel_wait_min=waiting,
        finish=day.at(last),
        finishes={order: day.at(moment) for order, moment in done.items()},
        press_min=_press_minutes(table),
        person_min=_person_minutes(table),
    )


def _late(day: Day, due: datetime | None, done: int | None) -> float:
    return 0.0 if due is None or done is None else max(0.0, done - (due - day.start).total_seconds()) / 60


def _finishes(table: Table) -> dict[str, int]:
    """The last second of any piece of each order."""
    done: dict[str, int] = {}
    for entry in table.entries:
        order = entry.row.order
        if entry.what != "change" and order is not None:
            done[order] = max(done.get(order, entry.end), entry.end)
    return done


def _changes(table: Table) -> tuple[int, int]:
    """Number and seconds of changes, without each day's warm-up."""
    count = total = 0
    for changes in table.changes.values():
        dates = [table.hours.workday(change.start) for change in changes]
        for before, today, change in zip(dates, dates[1:], changes[1:], strict=False):
            if today == before:
                count += 1
                total += change.seconds
    return count, total


def _peel_waits(table: Table) -> int:
    """Seconds that loadings stand open on a press before their peel."""
    return sum(
        max(0, closing.peel.start - closing.dwell.end)
        for closing in table.closings()
        if closing.peel is not None and closing.peel.row.press is not None
    )


def _idle_waits(table: Table, recipes: Recipes) -> float:
    """Seconds that presses stand empty while the pieces of their next loading still cool."""
    total = 0.0
    for press, loadings in table.on.items():
        changes = table.changes.get(press, [])
        stops = sorted([(c.start, c.end) for c in changes] + [(ld.start, ld.end) for ld in loadings])
        free: dict[int, int] = {}
        latest, place = -1, 0
        for loading in loadings:
            while place < len(stops) and stops[place][0] < loading.start:
                latest = max(latest, stops[place][1])
                place += 1
            free[loading.number] = max([latest, *(c.end for c in changes if c.start == c.end == loading.start)])
        spans: list[tuple[int, int]] = []
        for loading in loadings:
            since = free[loading.number]
            if since >= 0 and table.hours.workday(since) == table.hours.workday(loading.start):
                spans += _cooling_within(table, recipes, loading, since)
        # Two loadings put on in the same second wait out one stretch: a press-minute counts once.
        total += sum(end - start for start, end in joined(spans))
    return total


def _cooling_within(table: Table, recipes: Recipes, loading: Loading, since: int) -> list[tuple[int, int]]:
    spans: list[tuple[int, int]] = []
    if since >= loading.start:
        return spans
    for piece in loading.pieces:
        before = _previous(table, piece, loading)
        if before is not None:
            cool = before.dwell.end + earliest_peel(table, before, recipes.once(before))
            spans.append((max(since, before.dwell.end), int(min(loading.start, cool))))
    return spans


def _previous(table: Table, piece: str, loading: Loading) -> Closing | None:
    blank = table.blank(piece, loading)
    earlier = [
        c
        for c in table.every_closing.get(piece, [])
        if c.dwell.end <= loading.start and c.loading is not loading and table.blank(piece, c.loading) == blank
    ]
    return earlier[-1] if earlier else None


def _press_minutes(table: Table) -> dict[str, float]:
    """Minutes a loading is on a press or it changes."""
    busy = {}
    for press in table.day.presses:
        spans = [(ld.start, ld.end) for ld in table.on.get(press, [])]
        spans += [(change.start, change.end) for change in table.changes.get(press, [])]
        busy[press] = sum(end - start for start, end in joined(spans)) / 60
    return busy


def _person_minutes(table: Table) -> dict[str, float]:
    """Minutes of hand rows."""
    return {
        person: sum(e.seconds for e in table.by_person.get(person, []) if e.what in HAND_ROWS) / 60
        for person in table.day.people
    }
