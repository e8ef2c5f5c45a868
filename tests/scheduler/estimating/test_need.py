"""Film, hands and presses that an order takes, against reckonings by hand."""

from __future__ import annotations

import pytest

from models.order import OrderLine
from scheduler.estimating.need import film_of, need_of
from scheduler.planning import plan_day
from tests.scheduler.breakdown.days import film, strip
from tests.scheduler.days import day


def line(design: str, quantity: int, name: str = "1") -> OrderLine:
    return OrderLine(order="9", line=name, garment="tee", design=design, quantity=quantity)


def test_a_film_on_a_roll_is_as_long_as_reckoned_by_hand() -> None:
    """24 chests of 3.5 x 3.5 in on a 12 in roll: 294 sq in are 24.5 in by area; three across make 8 rows, 28 in."""
    made = day([film("navy", roll=[12, 180])], {"chest": {"front": [{"film": "navy", "box": [1, 1, 3.5, 3.5]}]}}, [])
    (need,) = film_of(made, [line("chest", 24)])
    assert (need.film, need.cuts, need.area, need.roll_width) == ("navy", 24, 294.0, 12.0)
    assert (need.by_area, need.in_rows) == (24.5, 28.0)


def test_rows_lie_the_shorter_way_round() -> None:
    """10 x 5 in, ten of them, on 12 in: upright two across are 5 rows of 10 in, lying one across is 10 rows of 5 in:
    50 in either way; on 15 in upright three across are 4 rows, 40 in."""
    layers = [{"film": "navy", "box": [0, 0, 10, 5]}]
    for width, length in ((12, 50.0), (15, 40.0)):
        made = day([film("navy", roll=[width, 180])], {"d": {"front": layers}}, [])
        assert film_of(made, [line("d", 10)])[0].in_rows == length


def test_lines_and_layers_of_one_film_add_up_and_an_outline_counts_as_its_rectangle() -> None:
    """Two boxes of 2 x 2 and a triangle in 6 x 4: a piece takes 4 + 4 + 24 sq in; 3 and 2 pieces 160."""
    layers = [strip("navy", 0), strip("navy", 1), {"film": "navy", "outline": [[0, 3], [6, 3], [3, 7]]}]
    made = day([film("navy"), film("red")], {"d": {"front": layers}}, [])
    (need,) = film_of(made, [line("d", 3), line("d", 2, "2")])
    assert (need.film, need.cuts, need.area) == ("navy", 15, 160.0)
    assert need.roll_width is None and need.by_area is None and need.in_rows is None


def test_art_wider_than_the_roll_has_no_length_in_rows() -> None:
    """Art that fits across the roll neither way round has no length in rows, and still an area."""
    made = day([film("navy", roll=[8, 180])], {"d": {"front": [{"film": "navy", "box": [0, 0, 10, 9]}]}}, [])
    (need,) = film_of(made, [line("d", 2)])
    assert (need.by_area, need.in_rows) == (22.5, None)


def test_hands_and_presses_are_the_rows_of_these_lines_alone() -> None:
    """One piece with one layer takes 10 s to load, 8 to align, 4 to peel and 4 to unload, 26 s of hands at the shop's
    times left out; the press has it for these and the 10 s of dwell."""
    made = day([film("navy")], {"d": {"front": [strip("navy", 0)]}}, [("d", 6), ("d", 3)])
    planned = plan_day(made, "quick")
    need = need_of(made, made.lines[1:], planned.rows)
    assert need.labour_min == pytest.approx(3 * 26 / 60, abs=0.01)
    assert need.press_min == {"window": pytest.approx(3 * 36 / 60, abs=0.01)}
    assert need_of(made, [replace_line(made.lines[1])], planned.rows).labour_min == 0


def replace_line(of: OrderLine) -> OrderLine:
    return of.model_copy(update={"order": "another"})
