"""A press's temperature through a day of work, as points for a line."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from models.day import Day
from models.plan import Row
from models.shop import Press
from scheduler import thermal
from scheduler.calendar import open_hours

Point = tuple[int, float]  # seconds from the day's start, degrees

_STEPS = 12  # points on one change: enough for the bend of a first-order response


def curves(day: Day, rows: Sequence[Row], press: Press) -> dict[date, list[Point]]:
    """The press's temperature on each date it works: warm-up, changes, and set in between."""
    by_date: dict[date, list[Row]] = {}
    for row in sorted((r for r in rows if r.press == press.id), key=lambda r: (r.start, r.end)):
        by_date.setdefault(row.start.date(), []).append(row)
    room = day.shop.room_temperature
    now = thermal.at_start(press, room)
    closed_at: int | None = None
    found: dict[date, list[Point]] = {}
    for on, worked in by_date.items():
        begin = day.seconds(worked[0].start)
        if closed_at is not None:
            now = thermal.resting(press, now, begin - closed_at, room)
        found[on], now = _one_day(day, worked, press, now)
        closed_at = _closing_after(day, begin)
    return found


def _one_day(day: Day, worked: Sequence[Row], press: Press, now: float) -> tuple[list[Point], float]:
    """The day's points from the temperature it begins with, and the temperature it ends with."""
    points = [(day.seconds(worked[0].start), now)]
    for row in (r for r in worked if r.what == "change" and r.temperature is not None):
        start, end, to = day.seconds(row.start), day.seconds(row.end), float(row.temperature or 0)
        points.append((start, now))
        for step in range(1, _STEPS):
            at = (end - start) * step / _STEPS
            points.append((start + round(at), thermal.part_way(press, now, to, at, day.shop.room_temperature)))
        points.append((end, to))
        now = to
    points.append((max(day.seconds(row.end) for row in worked), now))
    return points, now


def _closing_after(day: Day, moment: int) -> int:
    """When the shop closes on the day that holds the moment; the moment itself outside its hours."""
    return next((end for start, end in open_hours(day) if start <= moment < end), moment)
