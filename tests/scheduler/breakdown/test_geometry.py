"""Overlap, carriers and extents against figures worked by hand."""

from __future__ import annotations

import math
import subprocess
import sys
from typing import Any

import pytest

from models.design import Layer, Placement
from scheduler.breakdown.geometry import extent, fits_within, size, stack


def box(*given: float) -> Layer:
    return Layer.model_validate({"film": "a", "box": given})


def outline(*points: tuple[float, float]) -> Layer:
    return Layer.model_validate({"film": "a", "outline": points})


def meets(*layers: Layer, carriers: tuple[float, ...] = (0, 0)) -> tuple[bool, bool]:
    """Whether two layers overlap, and whether one lies under the other's carrier."""
    lies = stack(layers, carriers)
    return bool(lies.overlaps), bool(lies.covered)


TRIANGLE = ((0.0, 0.0), (4.0, 0.0), (0.0, 4.0))


@pytest.mark.parametrize(
    ("one", "two", "overlap"),
    [
        (box(0, 0, 4, 4), box(3, 3, 4, 4), True),
        (box(0, 0, 4, 4), box(4, 0, 4, 4), False),  # touching edges
        (box(0, 0, 4, 4), box(4, 4, 1, 1), False),  # touching corners
        (box(0, 0, 0.1, 1), box(0.1, 0, 0.2, 1), False),  # touching, in figures a computer rounds
        (box(0, 0, 9, 9), box(3, 3, 1, 1), True),  # one inside the other
        (outline(*TRIANGLE), box(2.1, 2.1, 1, 1), False),  # beyond the slope: x + y > 4
        (outline(*TRIANGLE), box(1.9, 1.9, 1, 1), True),
        (outline(*TRIANGLE), box(2, 2, 1, 1), False),  # a corner on the slope
        (outline((0, 0), (2, 2), (2, 0), (0, 2)), box(0.1, 0.5, 0.2, 1), True),  # a bow tie's left wing
        (outline((0, 0), (2, 2), (2, 0), (0, 2)), box(0.8, 1.5, 0.4, 0.4), False),  # above its knot
    ],
)
def test_overlap_is_a_common_area(one: Layer, two: Layer, overlap: bool) -> None:
    """Art overlaps where it shares an area; edges and corners that touch don't overlap."""
    assert meets(one, two)[0] is overlap
    assert meets(two, one)[0] is overlap


def test_a_box_grows_as_a_box() -> None:
    """A carrier of 1 round a box reaches its corner at (1, 1) beyond, farther than 1 by shortest distance."""
    corner = box(4.8, 4.8, 1, 1)  # 0.8 by 0.8 from the corner of the art: 1.13 away
    assert meets(box(0, 0, 4, 4), corner, carriers=(1, 0)) == (False, True)


def test_an_outline_grows_by_shortest_distance() -> None:
    """Round an outline the carrier is everywhere as far: 0.8 by 0.8 from a corner is sqrt(1.28) = 1.131 away."""
    square = outline((0, 0), (4, 0), (4, 4), (0, 4))
    corner = box(4.8, 4.8, 1, 1)
    assert math.hypot(0.8, 0.8) > 1
    assert meets(square, corner, carriers=(1, 0)) == (False, False)
    assert meets(square, corner, carriers=(1.14, 0)) == (False, True)
    assert meets(square, box(5, 0, 1, 1), carriers=(1, 0)) == (False, False)  # touching the sheet's edge


def test_either_carrier_is_in_the_way() -> None:
    """It is enough that one of two carrier sheets reaches over the other's art; touching is not."""
    one, two = box(0, 0, 2, 2), box(2.5, 0, 2, 2)
    assert meets(one, two, carriers=(0.5, 0.5)) == (False, False)
    assert meets(one, two, carriers=(0, 0.6)) == (False, True)
    assert meets(one, two, carriers=(0.6, 0)) == (False, True)


def test_carriers_may_overlap_each_other() -> None:
    """Two carrier sheets may lie on each other as long as neither lies on the other's art."""
    assert meets(box(0, 0, 2, 2), box(2.5, 0, 2, 2), carriers=(0.4, 0.4)) == (False, False)


def test_points_on_a_line_enclose_nothing() -> None:
    """An outline without an area is told apart."""
    assert stack([outline((0, 0), (1, 1), (2, 2)), box(0, 0, 1, 1)], [0, 0]).empty == (0,)


def test_extent_is_the_art_and_size_the_placement() -> None:
    """What must fit the platen is the placement's size, or the extent of its art where it gives none."""
    layers = [box(1, 2, 3, 4), outline((-1, 0), (0, 0), (0, 9))]
    assert extent(layers) == (5, 9)
    free: Any = {"at": "front", "layer": layers}
    assert size(Placement.model_validate(free)) == (5, 9)
    assert size(Placement.model_validate({**free, "size": [11, 10]})) == (11, 10)


def test_fits_either_way_round() -> None:
    """A rectangle fits another one as it lies or turned a quarter."""
    assert fits_within((12, 3), (4, 12)) and not fits_within((12, 5), (4, 12))


def test_shapely_is_loaded_late() -> None:
    """Loading the breakdown loads neither shapely nor a solver: help and checks of files stay quick."""
    code = "import sys, scheduler.breakdown; print([m for m in ('shapely', 'ortools', 'pandas') if m in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
