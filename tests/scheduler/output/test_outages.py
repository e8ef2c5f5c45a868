"""Presses that are down and people who are absent: on the picture, on its curve and on the sheets."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime, timedelta
from functools import cache
from typing import Any

import pytest

from models.day import Day
from models.log import Entry
from models.plan import Row
from scheduler import thermal
from scheduler.breakdown import break_down
from scheduler.logbook.spans import with_outs
from scheduler.output.page_chart import chart_data
from scheduler.output.page_curve import curves
from scheduler.output.sheets import sheets
from scheduler.output.sheets_facts import Work
from tests.scheduler.output.planned import planned
from tests.scheduler.output.sheeted import lines

AT = datetime(2026, 12, 8, 11, 0)
UNTIL = AT + timedelta(minutes=90)


@cache
def stopped(until: datetime | None) -> tuple[Day, list[Row]]:
    """The team shirts' day with west down and tobi absent from eleven, and what had ended by then."""
    made = planned("team-shirts")
    down = Entry(at=AT, what="down", press="west", until=until)
    absent = Entry(at=AT, what="absent", person="tobi", until=until)
    return with_outs(made.day, [down, absent]), [row for row in made.rows if row.end <= AT]


def warm_up(rows: list[Row]) -> Row:
    """West's warm-up once it works again."""
    change = next(row for row in rows if row.press == "west" and row.what == "change")
    return replace(change, start=UNTIL + timedelta(minutes=2), end=UNTIL + timedelta(minutes=9))


def points(day: Day, rows: list[Row]) -> dict[int, float]:
    """West's curve: seconds after eleven and degrees."""
    found = curves(day, rows, day.presses["west"])[AT.date()]
    return {second - day.seconds(AT): degrees for second, degrees in found}


def test_a_press_that_is_down_cools_and_is_heated_again() -> None:
    """From the moment it goes down the curve falls by the press's cooling, until its next warm-up heats it."""
    day, rows = stopped(UNTIL)
    press, again = day.presses["west"], warm_up(rows)
    drawn = points(day, [*rows, again])
    falling = {second: degrees for second, degrees in drawn.items() if 0 <= second <= 92 * 60}
    assert len(falling) > 10
    for second, degrees in falling.items():
        assert degrees == pytest.approx(thermal.resting(press, drawn[0], second, day.shop.room_temperature))
    assert falling[92 * 60] < drawn[0] - 50
    assert drawn[99 * 60] == again.temperature


def test_a_press_that_stays_down_cools_to_the_closing() -> None:
    """Where it does not come back the curve falls until the shop closes."""
    drawn = points(*stopped(None))
    day = stopped(None)[0]
    assert max(drawn) == 3600 * (day.shop.hours.close // 3600 - 11)
    assert drawn[max(drawn)] == pytest.approx(day.shop.room_temperature, abs=1)


@pytest.mark.parametrize(("until", "words"), [(UNTIL, " until 12:30"), (None, ", nobody knows until when")])
def test_the_picture_says_down_and_absent(until: datetime | None, words: str) -> None:
    """In the picture they are down and absent, the log's words, with until when, and nowhere away."""
    day, rows = stopped(until)
    shade: list[dict[str, Any]] = chart_data(day, planned("team-shirts").plan, rows)["days"][0]["shade"]
    down = [part for part in shade if part.get("press") == "west"]
    absent = [part for part in shade if part["word"] == "absent"]
    assert [(part["a"], part["word"], part["long"]) for part in down] == [(11 * 3600, "down", f"down{words}")]
    assert [part["long"] for part in absent] == [f"absent{words}"]
    assert down[0]["b"] == absent[0]["b"] == (12.5 * 3600 if until else 86_400)
    assert "away" not in {part["word"] for part in shade}


@pytest.mark.parametrize(
    ("until", "when", "words"),
    [
        (UNTIL, "11:00–12:30", ""),
        (AT + timedelta(days=1), "from 11:00", " until Wed 9 Dec 11:00"),
        (None, "from 11:00", ", nobody knows until when"),
    ],
)
def test_sheets_say_who_is_out(until: datetime | None, when: str, words: str) -> None:
    """The press's own sheet and the person's have a line for it, also where nothing comes after."""
    day, rows = stopped(until)
    made = sheets(Work(day, planned("team-shirts").plan, rows, break_down(day)))
    for file, said in (("press-west.html", "the press is down"), ("person-tobi.html", "absent")):
        assert [line.text for line in lines(made[file], "out")] == [f"{when} {said}{words}"]


def test_a_press_down_from_the_first_says_so() -> None:
    """A press that never worked is down on its sheet and below the picture, not idle without a reason."""
    day, rows = stopped(None)
    out = {row.loading for row in rows if row.press == "west"}
    other = next(who.id for who in day.shop.person if who.id != "tobi")
    left = [row for row in rows if row.loading not in out and row.press != "west"]
    others = [replace(row, person=other) if row.person == "tobi" else row for row in left]
    plan = planned("team-shirts").plan
    made = sheets(Work(day, plan, others, break_down(day)))
    assert "the press is down" in lines(made["press-west.html"], "out")[0].text
    assert "absent" in lines(made["person-tobi.html"], "out")[0].text
    assert chart_data(day, plan, others)["days"][0]["idle"] == "press west (down), tobi (absent)"
