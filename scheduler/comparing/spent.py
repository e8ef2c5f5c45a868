"""Where a plan's time goes: hand rows of people, and on each press pressing, settings and waits for cooling."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from models.day import Day
from models.plan import HAND_ROWS, Row
from scheduler import calendar
from scheduler.calendar import Span, Spans


@dataclass(frozen=True)
class PressTime:
    """A press's seconds. `pressing`: rows of loadings under way on it, summed over its platens; `setting`: warming up
    or changing; `cooling`: a loading stands waiting for its peel, or the press idle while its next pieces cool."""

    press: str
    pressing: int
    setting: int
    cooling: int
    warm_up: int  # the part of `setting` that is the first warm-up
    loadings: int


def press_times(day: Day, rows: Sequence[Row]) -> list[PressTime]:
    """Every press of the day, in the shop's order."""
    return [_press(day, press, rows) for press in day.presses]


def hand_seconds(rows: Sequence[Row]) -> int:
    """Seconds of hand rows, of all people together."""
    return sum(row.seconds for row in rows if row.what in HAND_ROWS)


def _press(day: Day, press: str, rows: Sequence[Row]) -> PressTime:
    mine = [row for row in rows if row.press == press]
    work = calendar.union(_span(day, row) for row in mine if row.loading is not None)
    settings = sorted((_span(day, row) for row in mine if row.what == "change"), key=lambda s: s[0])
    waits = calendar.without([*_on_press(day, mine), *_idle(day, press, rows)], [*work, *settings])
    return PressTime(
        press,
        sum(row.seconds for row in mine if row.loading is not None),
        sum(end - start for start, end in settings),
        calendar.length(waits),
        settings[0][1] - settings[0][0] if settings else 0,
        len({row.loading for row in mine if row.loading is not None}),
    )


def _on_press(day: Day, mine: Sequence[Row]) -> list[Span]:
    """From each opening to the peel on the press that follows."""
    opened: dict[tuple[int | None, int | None], int] = {}
    found = []
    for row in sorted(mine, key=lambda r: (r.start, r.end)):
        key = (row.loading, row.operation)
        if row.what == "dwell":
            opened[key] = day.seconds(row.end)
        elif row.what == "peel" and key in opened:
            found.append((opened[key], day.seconds(row.start)))
    return found


def _idle(day: Day, press: str, rows: Sequence[Row]) -> Spans:
    """The press idle before a loading whose pieces are still between an opening and their peel off the press."""
    cooling: dict[str, Span] = {}
    opened: dict[int, int] = {}
    found: list[Span] = []
    free = 0
    for row in sorted(rows, key=lambda r: (r.start, r.end)):
        if row.what == "dwell" and row.loading is not None:
            opened[row.loading] = day.seconds(row.end)
        elif row.what == "peel" and row.press is None and row.loading in opened:
            cooling |= dict.fromkeys(row.pieces, (opened[row.loading], day.seconds(row.start)))
        if row.press != press:
            continue
        if row.what == "load":
            gap = (free, day.seconds(row.start))
            found += calendar.common([gap], [cooling[piece] for piece in row.pieces if piece in cooling])
        free = max(free, day.seconds(row.end))
    return calendar.common(found, calendar.press_windows(day, press))


def _span(day: Day, row: Row) -> Span:
    return (day.seconds(row.start), day.seconds(row.end))
