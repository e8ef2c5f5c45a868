"""When the shop and its people work, as spans of seconds from the day's start, for the dates asked about."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable
from datetime import datetime, time

from models.day import Day
from models.shop import Person

DAY = 86_400
MOST = 400  # dates after which no evening is looked for: nothing is planned so far on
NAMES = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")

Spans = list[tuple[int, int]]


class Hours:
    """Opening hours, breaks and absences on the dates on which something is planned."""

    def __init__(self, day: Day, moments: Iterable[int]) -> None:
        self.day = day
        midnight = datetime.combine(day.start.date(), time())
        self.offset = round((day.start - midnight).total_seconds())
        self.dates = sorted({self.date(moment) for moment in moments})
        hours = day.shop.hours
        self.open = self._laid([(hours.open, hours.close)], hours.days)
        self.breaks = self._laid(hours.breaks, hours.days)
        self.away = {press.id: self._moments(press.away) for press in day.shop.press}
        self.people = {who.id: self._person(who) for who in day.shop.person}

    def date(self, moment: int) -> int:
        """The number of the date on which a moment lies, 0 for the start's own."""
        return (moment + self.offset) // DAY

    def workday(self, moment: int) -> int:
        """The date on which the opening began that a moment lies in: from 24:00 to 0:00 a shop does not close."""
        date = self.date(moment)
        while date > 0 and self._goes_on(date - 1):
            date -= 1
        return date

    def closing(self, date: int) -> int:
        """When the opening that lasts at least to this date's evening ends."""
        while date < MOST and self._goes_on(date):
            date += 1
        return self.opening(date)[1]

    def _goes_on(self, date: int) -> bool:
        """Whether the shop is open past the midnight after a date."""
        hours, weekday = self.day.shop.hours, self.day.start.weekday()
        days = hours.days or NAMES
        both = NAMES[(weekday + date) % 7] in days and NAMES[(weekday + date + 1) % 7] in days
        return both and hours.open == 0 and hours.close == DAY

    @property
    def first(self) -> int:
        """The date on which the shop is first open once planning begins."""
        days = self.day.shop.hours.days or NAMES
        weekday = self.day.start.weekday()
        return next(d for d in range(8) if self.opening(d)[1] > 0 and NAMES[(weekday + d) % 7] in days)

    def opening(self, date: int) -> tuple[int, int]:
        """When the shop opens and closes on a date, were it an opening day."""
        first = date * DAY - self.offset
        return first + self.day.shop.hours.open, first + self.day.shop.hours.close

    def _person(self, who: Person) -> dict[str, Spans]:
        shop = self.day.shop.hours
        span = (shop.open if who.open is None else who.open, shop.close if who.close is None else who.close)
        breaks = shop.breaks if who.breaks is None else who.breaks
        return {
            "hours": self._laid([span], who.days),
            "breaks": self._laid(breaks, None),
            "away": self._moments(who.away),
        }

    def _laid(self, clock: Iterable[tuple[int, int]], days: Iterable[str] | None) -> Spans:
        wanted = set(NAMES if days is None else days)
        first = self.day.start.weekday()
        dates = [d * DAY - self.offset for d in self.dates if NAMES[(first + d) % 7] in wanted]
        return joined((zero + a, zero + b) for zero in dates for a, b in clock)

    def _moments(self, pairs: Iterable[tuple[datetime, datetime]]) -> Spans:
        start = self.day.start
        return joined((round((a - start).total_seconds()), round((b - start).total_seconds())) for a, b in pairs)


def joined(spans: Iterable[tuple[int, int]]) -> Spans:
    """Spans in order, those that touch made one, empty ones dropped."""
    whole: Spans = []
    for start, end in sorted(span for span in spans if span[0] < span[1]):
        if whole and start <= whole[-1][1]:
            whole[-1] = (whole[-1][0], max(end, whole[-1][1]))
        else:
            whole.append((start, end))
    return whole


def inside(spans: Spans, start: int, end: int) -> bool:
    """Whether one span holds the whole of [start, end]."""
    after = bisect_right(spans, (start, 1 << 60))
    return after > 0 and end <= spans[after - 1][1]


def struck(spans: Spans, start: int, end: int) -> tuple[int, int] | None:
    """The first span that [start, end) cuts into, or None."""
    for span in spans[max(0, bisect_right(spans, (start, 1 << 60)) - 1) :]:
        if span[0] >= end:
            return None
        if span[1] > start:
            return span
    return None
