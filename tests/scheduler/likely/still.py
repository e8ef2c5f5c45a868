"""A played day held against its timetable."""

from __future__ import annotations

from collections.abc import Sequence

from models.day import Day
from models.plan import Row
from scheduler.likely import Played


def off_plan(day: Day, rows: Sequence[Row], played: Played) -> list[str]:
    """Rows that fall elsewhere than in the timetable on the last simulated day."""
    return [
        f"{row.what} {row.press} loading {row.loading}: {start:g} to {end:g} for {row.start} to {row.end}"
        for row, start, end in zip(rows, played.start[:, -1], played.end[:, -1], strict=True)
        if (start, end) != (day.seconds(row.start), day.seconds(row.end))
    ]
