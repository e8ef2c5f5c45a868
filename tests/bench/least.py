"""The hand-work bound: when the people could be done if none of them ever waited."""

from __future__ import annotations

from collections.abc import Sequence

from models.day import Day
from models.plan import HAND_ROWS, Row
from scheduler import calendar


def hand_bound(day: Day, rows: Sequence[Row]) -> int:
    """Seconds from the start by which everybody's hours, after the first warm-up, hold all hand rows of the plan.

    Rows are taken back to pace 1 and shared out as if the work could be divided freely.
    """
    people = day.people
    hands = sum(row.seconds / people[row.person].pace for row in rows if row.what in HAND_ROWS and row.person)
    warm = min(day.seconds(row.end) for row in rows if row.what == "change")
    hours = {who: calendar.common(calendar.person_windows(day, who), [(warm, 1 << 40)]) for who in people}
    low, high = 0, max(span[1] for spans in hours.values() for span in spans)
    while low < high:
        until = (low + high) // 2
        held = sum(calendar.length(spans, until) / people[who].pace for who, spans in hours.items())
        low, high = (until + 1, high) if held < hands else (low, until)
    return low
