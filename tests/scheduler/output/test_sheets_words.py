"""Names of files, ranges of pieces, times of peels, and drawings."""

from __future__ import annotations

import re

from hypothesis import given
from hypothesis import strategies as st

from models.design import Placement
from models.units import Window
from scheduler.output.drawing import placement_drawing
from scheduler.output.sheets_words import peel_time, piece_ranges, promise, slugs
from tests.scheduler.output.planned import finish

NAMES = st.lists(st.text(min_size=1, max_size=80), unique=True, max_size=30)


@given(NAMES)
def test_file_names_are_plain_and_no_two_alike(names: list[str]) -> None:
    """Whatever things are called, their files have plain names that differ also where case is not told apart."""
    found = slugs("press", names)
    assert list(found) == names
    assert len({file.lower() for file in found.values()}) == len(names)
    assert all(re.fullmatch(r"press-[a-z0-9-]{1,50}\.html", file) for file in found.values())


def test_file_names_are_like_the_things() -> None:
    """A plain name is kept, others are made plain, and a clash is numbered."""
    names = ["Window 2", "../../etc", "window-2", "漢字", "WINDOW 2", "window-2-2"]
    assert list(slugs("order", names).values()) == [
        "order-window-2.html",
        "order-etc.html",
        "order-window-2-2.html",
        "order-unnamed.html",
        "order-window-2-3.html",
        "order-window-2-2-2.html",
    ]


def test_pieces_in_a_row_are_taken_together() -> None:
    """Pieces that follow each other are a range, and what they share is said once."""
    assert piece_ranges(["G1-1-001"]) == "G1-1-001"
    assert piece_ranges([f"G1-1-{n:03d}" for n in (1, 2, 3, 5, 8, 9)]) == "G1-1-001 to 003, 005, 008 to 009"
    assert piece_ranges(["G1-1-002", "G1-2-003"]) == "G1-1-002, G1-2-003"


def test_peel_windows_in_words() -> None:
    """A window, one without an end, and one of a single second."""
    assert peel_time(Window(5, 30)) == "5 to 30 s after opening"
    assert peel_time(Window(60, None)) == "no sooner than 60 s after opening"
    assert peel_time(Window(0, 0)) == "0 s after opening"


def test_promises() -> None:
    """A begun late minute counts; without a due time nothing is promised."""
    assert promise(finish("G1", slack_min=-0.5)) == "LATE by 1 min"
    assert promise(finish("G1", slack_min=0)) == "the due time holds"
    assert promise(finish("G1")) == "no due time given"


PLACE = Placement.model_validate(
    {
        "at": "<front>",
        "layer": [
            {"film": "under", "box": [0, 0, 10, 20]},
            {"film": "low", "outline": [[1, 1], [9, 1], [5, 5]], "personal": True},
            {"film": "high", "box": [2, 15, 6, 4]},
            {"film": "last", "box": [4, 8, 2, 2]},
        ],
    }
)


def test_a_drawing_shows_what_is_laid_and_what_lies_there() -> None:
    """Layers laid now are filled and numbered, earlier ones pale, later ones left out; no word breaks out of it."""
    drawn = placement_drawing(PLACE, now=(2, 3), before=(1,), unit="in")
    assert re.findall(r'<polygon class="([^"]*)"', drawn) == ["before", "now personal", "now"]
    assert re.findall(r"<text[^>]*>(\d+)</text>", drawn) == ["2", "3"]
    assert "10 × 20 in" in drawn and "last" not in drawn
    assert "<front>" not in drawn and "&lt;front&gt;" in drawn


def test_a_drawing_has_the_collar_at_the_top() -> None:
    """y runs upwards in designs.toml: what has a larger y stands higher in the drawing, to scale."""
    drawn = placement_drawing(PLACE, now=(2, 3), before=(1,), unit="cm")
    under, low, high = (
        [tuple(map(float, p.split(","))) for p in s.split()] for s in re.findall(r'points="([^"]*)"', drawn)
    )
    assert max(y for _, y in high) < min(y for _, y in low)
    sides = [max(p[axis] for p in under) - min(p[axis] for p in under) for axis in (0, 1)]
    assert abs(sides[1] / sides[0] - 2) < 0.01


def test_numbers_stand_where_they_are_seen() -> None:
    """The number of a layer that lies under another of the same loading stands beside that one."""
    two = PLACE.model_copy(update={"layer": (PLACE.layer[0], PLACE.layer[3])})
    drawn = placement_drawing(two, now=(1, 2), before=(), unit="cm")
    (x, y), (a, b) = ((float(x), float(y)) for x, y in re.findall(r'<text x="([\d.]+)" y="([\d.]+)"', drawn))
    assert abs(x - a) > 10 or abs(y - b) > 10
