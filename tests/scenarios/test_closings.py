"""The scenarios read without a problem and break down into the closings that their notes count."""

from __future__ import annotations

import re

import pytest

from models.operation import Operation, Route
from scheduler.breakdown import break_down, check_fits
from scheduler.intake import read_day
from tests.scenarios.folders import NAMES, SCENARIOS, folder


def routes(name: str) -> dict[tuple[str, str], tuple[Route, ...]]:
    return break_down(read_day(SCENARIOS / name))


def preferred(name: str, garment: str, design: str) -> tuple[Operation, ...]:
    return routes(name)[garment, design][0].operations


@pytest.mark.parametrize("name", NAMES)
def test_every_operation_has_a_press_and_a_person(name: str) -> None:
    """Each scenario reads, breaks down without warnings and keeps every route on its presses."""
    day = read_day(SCENARIOS / name)
    found = break_down(day)
    assert check_fits(day, found) == found
    assert [warning for ways in found.values() for route in ways for warning in route.warnings] == []


@pytest.mark.parametrize("name", NAMES)
def test_the_note_counts_the_closings(name: str) -> None:
    """Where a note says how many closings a day or an order's pieces need, that many come out."""
    found = routes(name)
    lines = folder(name).lines
    closings = {line.key: len(found[line.garment, line.design][0].operations) for line in lines}
    total = re.search(r"(\d+) closings", folder(name).note)
    assert total is not None
    assert int(total[1]) == sum(closings[line.key] * line.quantity for line in lines)
    for order, count in re.findall(r"^\| ([A-Z]*-?\d+) [^|]*\| \d+ \| (\d+) \|", folder(name).note, re.MULTILINE):
        assert {closings[line.key] for line in lines if line.order == order} == {int(count)}


def test_a_jersey_is_pressed_at_one_setpoint_with_glitter_last() -> None:
    """All four closings of a jersey share 270 to 280 °F, under its 290; the glitter closes the front, at firm."""
    operations = preferred("team-shirts", "harrier-jersey", "harriers-home")
    assert max(op.temperature.lo for op in operations) == 270
    assert min(op.temperature.hi or 0 for op in operations) == 280
    front = [op for op in operations if op.placement == "front"]
    assert [op.layers for op in front] == [(1,), (2,), (3,)] and front[-1].pressures == ("firm",)
    assert [op.layers for op in operations if op.placement == "back"] == [(1, 2)]


def test_two_ironing_dots_leave_302_degrees_fahrenheit() -> None:
    """Two dots are 150 °C at most (ISO 3758:2023), 302 °F exactly: a 300 to 330 °F film keeps 300 to 302."""
    (operation,) = preferred("team-shirts", "soft-hoodie", "swim-moon")
    assert (operation.temperature.lo, operation.temperature.hi) == (300, 302)


def test_a_platenful_is_a_grid() -> None:
    """A 15 x 15 in platen holds 10 x 5 tags of 1.5 x 3 in and 5 x 5 patches of 3 x 3 in."""
    found = routes("fair-weekend")
    assert found["keyring-tag", "tag-lantern"][0].capacity((15, 15), "face") == 50
    assert found["felt-patch", "patch-snow"][0].capacity((15, 15), "face") == 25


def test_foil_is_pressed_again_without_layers() -> None:
    """The kettle tee: smooth with a tack, foil peeled cold, and a repress under a cover sheet."""
    smooth, foil, again = preferred("mixed-peels", "studio-tee", "kettle")
    assert (smooth.dwell.lo, foil.peel, again.layers, again.dwell.lo) == (4, "cold", (), 5)


def test_the_foil_waits_for_its_garment() -> None:
    """ceil(30 ln((310 - 68) / (95 - 68))) = 66 s, as the note says (Newton's law of cooling, lumped)."""
    _, foil, _ = preferred("mixed-peels", "studio-tee", "kettle")
    window = foil.peel_window(310, 68)
    assert window is not None and window.lo == 66 and "= 66 s" in folder("mixed-peels").note


def test_what_stands_no_reheat_goes_last() -> None:
    """Puff and glitter that stand no later pressing move their placement behind the one listed after it."""
    for name, garment, design in (
        ("mixed-peels", "heavy-sweat", "snow-owl"),
        ("celsius-studio", "studio-shirt", "heron"),
    ):
        films = folder(name).films
        for route in routes(name)[garment, design]:
            *earlier, last = route.operations
            assert [films[film].reheats for film in last.films] == [0]
            assert "back" in {op.placement for op in earlier}


def test_a_reheat_limit_narrows_what_follows() -> None:
    """With the mill wheel's stretch film first, back and sleeve keep 149 to 152 °C; with it last, up to 160."""
    ways = routes("celsius-studio")["studio-shirt", "mill-wheel"]
    highest = {
        route.operations.index(front): max(op.temperature.hi or 0 for op in route.operations if op is not front)
        for route in ways
        for front in route.operations
        if front.placement == "front"
    }
    assert highest[0] == 152 and highest[2] == 160


def test_shapes_count_and_not_their_boxes() -> None:
    """The baker's two triangles lie in overlapping boxes, never touch, and go down in one closing."""
    assert [op.layers for op in preferred("celsius-studio", "linen-bag", "bakers-mark")] == [(1, 2)]
