"""Figures that make no sense beside each other."""

from __future__ import annotations

import pytest

from scheduler.intake import read_day
from scheduler.intake.sense import START_FACTOR

# (file, what stands there, what is written, field, wrong)
SENSELESS = [
    ("shop.toml", "temperature = 72", "temperature = 720", "temperature", "no room"),
    ("shop.toml", 'temperature = "F" ', 'temperature = "C" ', "temperature", "no room"),
    ("shop.toml", "# at_start = 72", "at_start = 520", "at_start", "at most 430"),
    (
        "shop.toml",
        'breaks = [["12:00", "12:30"]]',
        'breaks = [["07:00", "12:30"], ["12:00", "17:00"]]',
        "breaks",
        "no time",
    ),
    ("shop.toml", 'open = "09:00"', 'open = "17:00"', "open", "never there"),
    ("shop.toml", 'open = "09:00"', 'close = "08:00"', "close", "never there"),
    ("catalog.toml", "# peel_below = 100", "peel_below = 72", "peel_below", "never falls"),
    ("catalog.toml", "# peel_below = 100", "peel_below = 100", "cooling_tau_s", "peeled by temperature"),
    ("catalog.toml", "[320, 330]", "[320.2, 320.8]", "temperature", "whole degree"),
    ("designs.toml", "[[3, 1], [7, 1], [5, 4]]", "[[3, 1], [7, 1], [5, 1]]", "outline", "no area"),
    (
        "designs.toml",
        "[[3, 1], [7, 1], [5, 4]]",
        "[[3, 1], [7, 4], [7, 1], [3, 4]]",
        "outline",
        "no outline of one area",
    ),
]


@pytest.mark.parametrize("case", SENSELESS, ids=lambda case: case[2][:40])
def test_what_makes_no_sense_is_a_problem(edit, problems, case):
    """Each with its field and the reason."""
    file, old, new, field, wrong = case
    edit(file, old, new)
    assert any(p.field == field and wrong in p.wrong and p.right for p in problems()), problems()


def test_fahrenheit_under_celsius_is_noticed(edit, problems):
    """Above 430 °C nothing is pressed: every figure that is says so."""
    edit("shop.toml", 'temperature = "F" ', 'temperature = "C" ')
    edit("shop.toml", "temperature = 72", "temperature = 22")
    edit("shop.toml", "[200, 430]", "[200, 450]")
    edit("catalog.toml", "[320, 330]", "[500, 510]")
    edit("catalog.toml", "max_temperature = 285", "max_temperature = 545")
    assert [(p.file, p.field) for p in problems()] == [
        ("shop.toml", "temperature"),
        ("catalog.toml", "temperature"),
        ("catalog.toml", "max_temperature"),
    ]


def test_a_measured_fall_does_not_reach_the_room(edit, only):
    """Newton's law of cooling (Incropera, ch. 5): the room's temperature is approached, never reached."""
    edit("shop.toml", "cool_down = 4 ", "cooling = { tau_min = 60 } # ")
    edit("shop.toml", "[200, 430]", "[72, 430]")
    assert only().where == '[[press]] 1 "window"' and "never falls to 72" in only().wrong


def test_a_press_may_start_hotter_than_its_highest(folder, edit):
    """A display may overshoot: up to a fifth above the highest set-point is believed."""
    edit("shop.toml", "# at_start = 72", f"at_start = {430 * START_FACTOR}")
    assert read_day(folder).presses["window"].at_start == 516


def test_a_start_at_the_ceiling_is_a_problem(edit, only):
    """A press that shows what it can at most reach has been measured wrongly."""
    edit("shop.toml", "heat_up = 25 ", "heating = { ceiling = 440, tau_min = 22 } # ")
    edit("shop.toml", "# at_start = 72", "at_start = 450")
    assert only().field == "at_start"


def test_peel_below_needs_a_time_constant_only_where_it_is_ordered(folder, edit):
    """A film that no order lays on the garment asks nothing of it."""
    edit("catalog.toml", "# peel_below = 100", "peel_below = 100")
    edit("catalog.toml", "# cooling_tau_s = 30", "cooling_tau_s = 30")
    day = read_day(folder)
    assert day.garments["league-tee"].cooling_tau_s is None


def test_bow_ties_in_a_design_wrong_otherwise_are_still_found(edit, problems):
    """A layer is looked at by itself."""
    edit("designs.toml", "[[3, 1], [7, 1], [5, 4]]", "[[3, 1], [7, 4], [7, 1], [3, 4]]")
    edit("designs.toml", "box = [0, 0, 10, 5]", "box = [0, 0, 10]")
    assert [p.field for p in problems()] == ["box, item 4", "outline"]
