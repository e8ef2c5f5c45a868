"""The words for a sound day."""

from __future__ import annotations

from datetime import datetime

import pytest

from scheduler.intake import read_day
from scheduler.intake.describe import clock, describe, films_apart, worth_a_look

NOW = datetime(2026, 12, 1, 7, 0)


@pytest.fixture
def words(folder):
    """The description of the folder as it stands."""
    return lambda: "\n".join(describe(read_day(folder, NOW)))


def test_counts_hours_and_settings_are_told(words):
    """What `pressday check` says of a sound folder."""
    text = words()
    assert "2 presses, 2 people, 4 orders, 5 lines, 41 pieces" in text
    assert "Open 08:00-17:00, mon, tue, wed, thu, fri, sat, breaks 12:00-12:30" in text
    assert "planning begins Tue 2026-12-01 08:00" in text
    assert "Film low-white: 265 to 280 °F, 12 to 15 s, pressure medium, warm peel 5 to 30 s" in text
    assert "Worth a look" not in text


def test_one_of_a_kind_is_singular(folder, edit, words):
    """1 line, not 1 lines."""
    (folder / "orders.csv").write_text("order,garment,quantity,design\n1,market-tee,1,stall-chest\n")
    (folder / "names.csv").unlink()
    assert "1 order, 1 line, 1 piece" in words()


def test_films_that_never_share_a_setting(folder):
    """Windows that do not meet, or pressures that do not."""
    pairs = {(a.id, b.id): why for a, b, why in films_apart(read_day(folder, NOW))}
    assert pairs == {
        ("smooth-navy", "glitter-gold"): "pressure medium against firm",
        ("smooth-navy", "low-white"): "305 to 320 against 265 to 280 degrees",
        ("glitter-gold", "low-white"): "320 to 330 against 265 to 280 degrees",
    }


# (file, what stands there, what is written, what is said)
LOOKS = [
    ("shop.toml", 'presses = ["wall"]\nopen = "09:00"', 'days = ["sun"]', "tomas is never there"),
    ("shop.toml", "pace = 1.0", 'presses = ["wall"]', "nobody works press window"),
    (
        "shop.toml",
        '# away = [["2026-12-01T14:00", "2026-12-01T15:00"]]',
        'away = [["2026-01-01T00:00", "2027-01-01T00:00"]]',
        "press window is away all the time",
    ),
    (
        "catalog.toml",
        "[[garment]]",
        '[[film]]\nid = "spare"\ntemperature = 300\ndwell_s = 9\npeel = "hot"\n[[garment]]',
        "not in today's orders: film spare",
    ),
    (
        "catalog.toml",
        "[305, 320]",
        "[150, 160]",
        "film smooth-navy is pressed at 160 °F at most; is that the right unit?",
    ),
    ("catalog.toml", "iron = 3 ", "# ", "garment market-tee has no limit"),
    ("designs.toml", "box = [0, 0, 10, 5]", "box = [0, 0, 10, 9]", "reaches beyond the placement's size"),
    ("designs.toml", "box = [0, 0, 3.5, 3.5]", "box = [0, 0, 13, 13]", "larger than the roll of smooth-navy"),
    ("orders.csv", "stall-chest,,,\n", "stall-chest,,2026-11-01 08:00,\n", "due before planning begins: order 1004"),
    (
        "orders.csv",
        "stall-chest,,,\n",
        "stall-chest,2027-11-01 08:00,,\n",
        "ready only after the two weeks that are planned: order 1004",
    ),
    ("names.csv", "1002,1,1,", "1003,1,1,X,1\n1002,1,1,", "names pieces that have no personal layer: order 1003"),
]


@pytest.mark.parametrize("case", LOOKS, ids=lambda case: case[3][:40])
def test_what_is_worth_a_look_is_said(folder, edit, words, case):
    """Nothing of it is an error; all of it may be a slip."""
    edit(*case[:3])
    assert any(case[3] in line for line in words().splitlines() if line.startswith("Worth a look"))


def test_no_due_times_at_all_is_worth_a_look(folder):
    """Without due times nothing can be late."""
    text = (folder / "orders.csv").read_text().splitlines()
    bare = [",".join([*line.split(",")[:8], "", line.split(",")[9]]) for line in text[1:]]
    (folder / "orders.csv").write_text("\n".join([text[0], *bare]))
    assert "no order has a due time, so nothing can be late" in worth_a_look(read_day(folder, NOW))


@pytest.mark.parametrize(("seconds", "text"), [(0, "00:00"), (30_600, "08:30"), (86_400, "24:00"), (61, "00:01:01")])
def test_clock(seconds, text):
    """Times of day in 24 hours."""
    assert clock(seconds) == text
