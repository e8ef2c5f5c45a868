"""Working windows: nothing but arithmetic on spans of whole seconds counted from the day's start."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from datetime import date, datetime, timedelta

from models.day import Day
from models.shop import WEEKDAYS, Hours, Person

HORIZON_DAYS = 14  # nothing is planned beyond two weeks of opening hours

Span = tuple[int, int]  # [start, end)
Spans = tuple[Span, ...]


def union(spans: Iterable[Span]) -> Spans:
    """The spans sorted and joined where they touch; empty ones dropped."""
    merged: list[Span] = []
    for start, end in sorted(s for s in spans if s[0] < s[1]):
        if merged and start <= merged[-1][1]:
            merged[-1] = (merged[-1][0], max(merged[-1][1], end))
        else:
            merged.append((start, end))
    return tuple(merged)


def without(spans: Iterable[Span], holes: Iterable[Span]) -> Spans:
    """What is left of the spans when the holes are taken out."""
    left = list(union(spans))
    for hole_start, hole_end in union(holes):
        left = [
            part
            for start, end in left
            for part in ((start, min(end, hole_start)), (max(start, hole_end), end))
            if part[0] < part[1]
        ]
    return tuple(left)


def common(a: Iterable[Span], b: Iterable[Span]) -> Spans:
    """The time that lies in both."""
    first, second, found = union(a), union(b), list[Span]()
    i = j = 0
    while i < len(first) and j < len(second):
        start, end = max(first[i][0], second[j][0]), min(first[i][1], second[j][1])
        if start < end:
            found.append((start, end))
        if first[i][1] < second[j][1]:
            i += 1
        else:
            j += 1
    return tuple(found)


def length(spans: Iterable[Span], until: int | None = None) -> int:
    """Seconds the spans hold, of those before `until` where it is given."""
    return sum(max(0, (e if until is None else min(e, until)) - s) for s, e in spans)


def reach(spans: Iterable[Span], seconds: int) -> int | None:
    """The earliest moment by which the spans have held so many seconds; None where they never do."""
    for start, end in spans:
        if seconds <= end - start:
            return start + seconds
        seconds -= end - start
    return None


def opening_dates(day: Day) -> list[date]:
    """The dates within the horizon on which the shop opens, the start's own included."""
    days = day.shop.hours.days or WEEKDAYS
    dates = (day.start.date() + timedelta(days=n) for n in range(HORIZON_DAYS + 1))
    return [d for d in dates if WEEKDAYS[d.weekday()] in days]


def open_hours(day: Day) -> Spans:
    """The shop's opening hours, breaks included, from the start to the horizon; a span a day."""
    return _daily(day, opening_dates(day), [(day.shop.hours.open, day.shop.hours.close)])


def shop_breaks(day: Day) -> Spans:
    """The breaks of the whole shop."""
    return common(_daily(day, opening_dates(day), day.shop.hours.breaks), open_hours(day))


def shop_windows(day: Day) -> Spans:
    """When loadings may lie on presses: opening hours without breaks."""
    return without(open_hours(day), shop_breaks(day))


def away_spans(day: Day, press: str) -> Spans:
    """When a press is away."""
    return union((day.seconds(a), day.seconds(b)) for a, b in day.presses[press].away)


def press_windows(day: Day, press: str) -> Spans:
    """When loadings may lie on this press."""
    return without(shop_windows(day), away_spans(day, press))


def person_windows(day: Day, person: str) -> Spans:
    """When this person's hands are there: their own hours within the shop's, without their breaks."""
    who, hours = day.people[person], day.shop.hours
    days = who.days or WEEKDAYS
    dates = [d for d in opening_dates(day) if WEEKDAYS[d.weekday()] in days]
    breaks = hours.breaks if who.breaks is None else who.breaks
    present = _daily(day, dates, [_hours(who, hours)])
    away = [(day.seconds(a), day.seconds(b)) for a, b in who.away]
    return without(common(present, open_hours(day)), [*_daily(day, dates, breaks), *away])


def next_opening(hours: Hours, now: datetime) -> datetime:
    """`now` where the shop is open, or the next moment it opens."""
    days = hours.days or WEEKDAYS
    for n in range(8):
        midnight = datetime.combine(now.date() + timedelta(days=n), datetime.min.time())
        opens, closes = (midnight + timedelta(seconds=s) for s in (hours.open, hours.close))
        if WEEKDAYS[midnight.weekday()] in days and now < closes:
            return max(now, opens)
    raise ValueError("a shop opens on at least one day of the week")


def _hours(who: Person, hours: Hours) -> Span:
    return (hours.open if who.open is None else who.open, hours.close if who.close is None else who.close)


def _daily(day: Day, dates: Sequence[date], spans: Iterable[Span]) -> Spans:
    """Clock spans laid over the dates, in seconds from the start, nothing before it nor past the horizon."""
    clock_spans = list(spans)
    first = [day.seconds(datetime.combine(d, datetime.min.time())) for d in dates]
    last = HORIZON_DAYS * 86_400
    return union((max(0, m + a), min(last, m + b)) for m in first for a, b in clock_spans if m + b > 0)
