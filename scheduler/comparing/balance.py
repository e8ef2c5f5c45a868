"""How the work divides over the presses, and why it is not even where it is not."""

from __future__ import annotations

from collections.abc import Sequence

from models.day import Day
from models.plan import Row
from scheduler import calendar
from scheduler.comparing.spent import PressTime, press_times
from scheduler.comparing.takers import place_of, takers

EVEN = 0.1  # shares of the pressing that differ by no more than this are even


def balance_of(day: Day, rows: Sequence[Row]) -> list[str]:
    """Sentences: each press's part of the pressing, and what keeps the parts from being even."""
    times = press_times(day, rows)
    whole = sum(time.pressing for time in times)
    if len(times) < 2 or not whole:
        return []
    parts = ", ".join(f"{t.press} {100 * t.pressing / whole:.0f} % ({t.pressing / 60:.0f} min)" for t in times)
    said = [f"Pressing by press: {parts}."]
    most, least = max(times, key=lambda t: t.pressing), min(times, key=lambda t: t.pressing)
    if (most.pressing - least.pressing) / whole <= EVEN:
        return [*said, "That is about even."]
    return [*said, *_why(day, rows, most, least)]


def _why(day: Day, rows: Sequence[Row], most: PressTime, least: PressTime) -> list[str]:
    said = []
    there = [calendar.length(calendar.press_windows(day, p.press), _end(day, rows)) for p in (most, least)]
    if there[0] - there[1] >= 300:
        said.append(f"{least.press} is there {(there[0] - there[1]) / 60:.0f} min less than {most.press}.")
    slower = least.setting - most.setting
    if slower >= 300:
        said.append(f"{least.press} spends {slower / 60:.0f} min more than {most.press} on warming up and changing.")
    own, apart, free = _movable(day, rows, most.press, least.press)
    if own >= 300:
        said.append(f"{own / 60:.0f} min of what {most.press} presses, {least.press} cannot take at all.")
    if apart >= 300:
        cost = day.shop.goals.change
        said.append(
            f"{apart / 60:.0f} min of it {least.press} could take only at a setting it is not put to in this plan: "
            f"a change of setting counts {cost:g} min, and the time it takes."
        )
    if free >= 300:
        said.append(
            f"{free / 60:.0f} min of it would suit a setting that {least.press} has in this plan: moving it would "
            "split runs, keep due times or hands waiting, or the search has not found a way that is better."
        )
    return said


def _end(day: Day, rows: Sequence[Row]) -> int:
    return max(day.seconds(row.end) for row in rows)


def _movable(day: Day, rows: Sequence[Row], most: str, least: str) -> tuple[int, int, int]:
    """Seconds of pressing on `most` that `least` can't take, could at another setting, could at one it has."""
    used = {(row.temperature, row.pressure) for row in rows if row.press == least and row.loading is not None}
    where = takers(day)
    own = apart = free = 0
    for row in rows:
        if row.press != most or row.loading is None:
            continue
        fit = where.get(place_of(row), {}).get(least)
        if fit is None:
            own += row.seconds
        elif any(t is not None and t in fit.temperature and p in fit.pressures for t, p in used):
            free += row.seconds
        else:
            apart += row.seconds
    return own, apart, free
