"""Working windows: arithmetic on spans of seconds against sets of seconds, and hours against the clock."""

from __future__ import annotations

import itertools
from datetime import datetime, timedelta
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.day import Day
from models.shop import Hours
from scheduler import calendar
from scheduler.calendar import Spans
from tests.scheduler.breakdown.days import PRESS, film, pile
from tests.scheduler.days import START, day

spans = st.lists(st.tuples(st.integers(-5, 30), st.integers(-5, 30)), max_size=6)


def seconds(parts: Any) -> set[int]:
    """Every second the spans hold."""
    return {s for a, b in parts for s in range(a, b)}


def tidy(parts: Spans) -> bool:
    """Sorted, not empty, not touching."""
    return all(a < b for a, b in parts) and all(x[1] < y[0] for x, y in itertools.pairwise(parts))


@given(spans)
def test_union_holds_the_same_seconds(a: list[tuple[int, int]]) -> None:
    """Joined spans are sorted, apart, and hold what the spans held."""
    assert seconds(calendar.union(a)) == seconds(a)
    assert tidy(calendar.union(a))


@given(spans, spans)
def test_without_takes_the_holes_out(a: list[tuple[int, int]], b: list[tuple[int, int]]) -> None:
    """What is left are the seconds of the first that are not in the second."""
    assert seconds(calendar.without(a, b)) == seconds(a) - seconds(b)
    assert tidy(calendar.without(a, b))


@given(spans, spans)
def test_common_is_in_both(a: list[tuple[int, int]], b: list[tuple[int, int]]) -> None:
    """What both hold, whichever comes first."""
    assert seconds(calendar.common(a, b)) == seconds(a) & seconds(b)
    assert calendar.common(a, b) == calendar.common(b, a)


@given(spans, st.integers(-6, 31))
def test_length_counts_seconds(a: list[tuple[int, int]], until: int) -> None:
    """All of them, or those before a moment."""
    joined = calendar.union(a)
    assert calendar.length(joined) == len(seconds(a))
    assert calendar.length(joined, until) == len({s for s in seconds(a) if s < until})


@given(spans, st.integers(1, 40))
def test_reach_is_the_first_moment_by_which_so_much_has_passed(a: list[tuple[int, int]], wanted: int) -> None:
    """It agrees with counting the seconds one by one, and says None where they never suffice."""
    held = sorted(seconds(a))
    expected = held[wanted - 1] + 1 if wanted <= len(held) else None
    assert calendar.reach(calendar.union(a), wanted) == expected


def shop(**more: Any) -> Day:
    """A day with nothing special but what is given."""
    return day([film("a")], {"d": {"front": [pile("a")]}}, [("d", 1)], **more)


def clock(*parts: tuple[str, str]) -> list[tuple[datetime, datetime]]:
    """Times of December 2026 written as "1 08:00"."""
    return [tuple(datetime.strptime(f"2026 12 {part}", "%Y %m %d %H:%M") for part in pair) for pair in parts]  # type: ignore[misc]


def shown(made: Day, parts: Spans) -> list[tuple[datetime, datetime]]:
    """Spans as clock times."""
    return [(made.at(a), made.at(b)) for a, b in parts]


def test_opening_hours_are_a_span_a_day_from_the_start() -> None:
    """Hours before the start are gone; closed days are left out; two weeks and no more."""
    made = shop(hours={"open": "07:00", "close": "15:00", "days": ["tue", "sat"]})
    expected = clock(("1 08:00", "1 15:00"), ("5 07:00", "5 15:00"), ("8 07:00", "8 15:00"), ("12 07:00", "12 15:00"))
    expected += clock(("15 07:00", "15 08:00"))
    assert shown(made, calendar.open_hours(made)) == expected
    assert calendar.open_hours(made)[-1][1] <= calendar.HORIZON_DAYS * 86_400


def test_breaks_of_the_shop_part_the_day() -> None:
    """A break outside the hours takes nothing; one at closing time shortens the day."""
    made = shop(hours={"days": ["tue"], "breaks": [["12:00", "12:30"], ["16:45", "17:30"], ["05:00", "06:00"]]})
    first = [pair for pair in shown(made, calendar.shop_windows(made)) if pair[0].day == 1]
    assert first == clock(("1 08:00", "1 12:00"), ("1 12:30", "1 16:45"))
    breaks = [pair for pair in shown(made, calendar.shop_breaks(made)) if pair[0].day == 1]
    assert breaks == clock(("1 12:00", "1 12:30"), ("1 16:45", "1 17:00"))


def test_a_press_is_away_only_when_it_says() -> None:
    """Its own windows lose the time it is away, over days too; others keep theirs."""
    away = [["2026-12-01T14:00", "2026-12-01T15:00"], ["2026-12-02T16:00", "2026-12-03T10:00"]]
    made = shop(
        presses=[{**PRESS, "away": away}, {**PRESS, "id": "wall"}],
        hours={"days": ["tue", "wed", "thu"]},
    )
    mine = [pair for pair in shown(made, calendar.press_windows(made, "window")) if pair[0].day < 4]
    assert mine == clock(("1 08:00", "1 14:00"), ("1 15:00", "1 17:00"), ("2 08:00", "2 16:00"), ("3 10:00", "3 17:00"))
    assert calendar.press_windows(made, "wall") == calendar.shop_windows(made)


def test_people_keep_their_own_hours_within_the_shops() -> None:
    """Own hours, days and breaks take the place of the shop's; nobody works while the shop is shut."""
    made = shop(
        people=[
            {"id": "ada"},
            {"id": "ben", "open": "06:00", "close": "13:00", "breaks": [["10:00", "10:15"]]},
            {"id": "cy", "days": ["wed"], "away": [["2026-12-02T09:00", "2026-12-02T11:00"]], "breaks": []},
        ],
        hours={"days": ["tue", "wed"], "breaks": [["12:00", "12:30"]]},
    )
    by_name = {who: shown(made, calendar.person_windows(made, who)) for who in ("ada", "ben", "cy")}
    assert [p for p in by_name["ada"] if p[0].day == 1] == clock(("1 08:00", "1 12:00"), ("1 12:30", "1 17:00"))
    assert [p for p in by_name["ben"] if p[0].day == 1] == clock(("1 08:00", "1 10:00"), ("1 10:15", "1 13:00"))
    assert [p for p in by_name["cy"] if p[0].day < 4] == clock(("2 08:00", "2 09:00"), ("2 11:00", "2 17:00"))


def test_a_break_of_the_shop_does_not_bind_those_with_their_own() -> None:
    """A person with other breaks is there while the others rest; loadings still keep to the shop's."""
    made = shop(people=[{"id": "ada", "breaks": []}], hours={"days": ["tue"], "breaks": [["12:00", "12:30"]]})
    assert [p for p in shown(made, calendar.person_windows(made, "ada")) if p[0].day == 1] == clock(
        ("1 08:00", "1 17:00")
    )
    assert len([p for p in calendar.press_windows(made, "window") if p[0] < 86_400]) == 2


@pytest.mark.parametrize(
    ("now", "opens"),
    [
        ("2026-12-01T07:59", "2026-12-01T08:00"),
        ("2026-12-01T08:00", "2026-12-01T08:00"),
        ("2026-12-01T12:10", "2026-12-01T12:10"),
        ("2026-12-01T17:00", "2026-12-02T08:00"),
        ("2026-12-02T18:00", "2026-12-08T08:00"),
    ],
)
def test_the_next_opening(now: str, opens: str) -> None:
    """Now where the shop is open, or the next moment it opens: tonight that is tomorrow, or next week."""
    hours = Hours.model_validate({"days": ["tue", "wed"]})
    assert calendar.next_opening(hours, datetime.fromisoformat(now)) == datetime.fromisoformat(opens)


@given(
    st.sets(st.sampled_from(["mon", "tue", "wed", "thu", "fri", "sat", "sun"]), min_size=1),
    st.integers(0, 7 * 24 * 60),
)
def test_the_next_opening_is_the_first_open_minute(days: set[str], minutes: int) -> None:
    """It agrees with trying one minute after another."""
    hours = Hours.model_validate({"open": "22:00", "close": "24:00", "days": sorted(days)})
    now = START + timedelta(minutes=minutes)
    names = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
    trial = now
    while not (names[trial.weekday()] in days and trial.hour >= 22):
        trial += timedelta(minutes=1)
    assert calendar.next_opening(hours, now) == trial
