"""A press's temperature through a day of work, as points for a line."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import date, datetime, timedelta

from models.day import Day
from models.plan import Row
from models.shop import Press
from scheduler.calendar import open_hours
from scheduler.logbook.loadings import loadings_of
from scheduler.logbook.presses import Heat
from scheduler.logbook.spans import Out

Point = tuple[int, float]  # seconds from the day's start, degrees

_STEPS = 12  # points on one change: enough for the bend of a first-order response
_MOST_STEPS = 60  # and on a fall while the press is down, one every two minutes where that is fewer


def curves(day: Day, rows: Sequence[Row], press: Press) -> dict[date, list[Point]]:
    """The press's temperature on each date it works: warm-up, changes, set in between, falling while it is down."""
    by_date: dict[date, list[Row]] = {}
    for row in sorted((r for r in rows if r.press == press.id), key=lambda r: (r.start, r.end)):
        by_date.setdefault(row.start.date(), []).append(row)
    own = [row for worked in by_date.values() for row in worked]
    outs = [Out(start, end) for start, end in day.down.get(press.id, ())]
    heat = Heat(day, press, [row for row in own if row.what == "change"], loadings_of(own), outs)
    found: dict[date, list[Point]] = {}
    for on, worked in by_date.items():
        moments = sorted({*_changing(worked), *_falling(worked, outs, _closing(day, on))})
        found[on] = [(day.seconds(at), heat.showing(at).temperature) for at in moments]
    return found


def _changing(worked: Sequence[Row]) -> Iterator[datetime]:
    """Moments of one date where the line may bend, from the press's first row to its last."""
    yield worked[0].start
    for row in worked:
        if row.what == "change":
            yield from _between(row.start, row.end, _STEPS)
    yield max(row.end for row in worked)


def _falling(worked: Sequence[Row], outs: Sequence[Out], last: datetime) -> Iterator[datetime]:
    """Moments from each time it went down on to what it does next, or to the shop's closing."""
    for out in outs:
        again = min((row.start for row in worked if row.start >= (out.end or datetime.max)), default=last)
        if worked[0].start <= out.start < again:
            yield from _between(out.start, again, min(_MOST_STEPS, (again - out.start) // timedelta(minutes=2) + 1))


def _closing(day: Day, on: date) -> datetime:
    """When the shop closes on a date; its end where it does not open."""
    closing = (day.at(end) for _, end in open_hours(day))
    return next((end for end in closing if end.date() == on), datetime.combine(on, datetime.max.time()))


def _between(start: datetime, end: datetime, steps: int) -> Iterator[datetime]:
    yield from (start + timedelta(seconds=round((end - start).total_seconds() * n / steps)) for n in range(steps + 1))
