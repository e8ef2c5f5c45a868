"""A day as a whole, an operation's cooling, what fits a platen, and problems in words."""

from __future__ import annotations

import math
from datetime import datetime

import pytest

from models.catalog import Catalog
from models.day import Day
from models.design import Designs
from models.operation import CoolTo, Operation, Route
from models.order import OrderLine
from models.problem import BadInput, NoPlan, Problem
from models.shop import Shop
from models.units import Window


def _day(presses=(), films=()):
    press = {"platen": [16, 20], "temperature": [200, 400], "heat_up": 20, "cool_down": 4}
    film = {"temperature": 300, "dwell_s": 12, "peel": "hot"}
    layer = {"film": "f0", "box": [0, 0, 1, 1]}
    return Day(
        shop=Shop.model_validate(
            {"press": [press | {"id": f"p{n}"} | p for n, p in enumerate(presses)], "person": [{"id": "a"}]}
        ),
        catalog=Catalog.model_validate(
            {"film": [film | {"id": f"f{n}"} | f for n, f in enumerate(films)], "garment": [{"id": "g"}]}
        ),
        designs=Designs.model_validate({"design": [{"id": "d", "placement": [{"at": "front", "layer": [layer]}]}]}),
        lines=tuple(
            OrderLine(order=order, line=line, customer=customer, garment="g", quantity=1, design="d")
            for order, line, customer in [("B", "1", ""), ("A", "1", "Ann"), ("B", "2", "Bea")]
        ),
        start=datetime(2026, 12, 1, 8),
    )


def test_orders_keep_the_files_order_and_the_first_customer():
    """Lines are gathered by order; a customer given on any line is the order's."""
    orders = _day([{}], [{}]).orders
    assert [(o.id, o.customer, len(o.lines)) for o in orders.values()] == [("B", "Bea", 2), ("A", "Ann", 1)]


@pytest.mark.parametrize(
    ("presses", "films", "words", "first"),
    [
        ([{}], [{}], ("medium",), ("medium",)),
        ([{"pressures": ["firm"]}], [{"pressure": "light"}], ("firm", "light"), ("firm",)),
        ([{}, {"pressures": ["firm"]}], [{}], ("firm",), ("firm",)),
    ],
)
def test_pressures_left_out_are_any_word_in_use(presses, films, words, first):
    """A press or film without pressures takes any word in use; one word where none is used."""
    day = _day(presses, films)
    assert (day.pressure_words, day.press_pressures("p0")) == (words, first)


def test_clock_and_seconds_are_one_another():
    """Seconds are counted from the start; before it they are negative."""
    day = _day([{}], [{}])
    assert day.seconds(datetime(2026, 12, 1, 7, 59, 30)) == -30
    assert day.at(90) == datetime(2026, 12, 1, 8, 1, 30)


def test_cooling_of_cotton_with_a_film():
    """180 g/m² cotton with a 90 µm film: tau about 29 s, 150 to 60 °C in air of 22 °C takes 36 s.

    Derived from Newton's law of cooling, lumped (Incropera, ch. 5).
    """
    assert CoolTo(60, 29).seconds(150, 22) == 36


def test_the_response_of_a_thermocouple_junction():
    """Çengel, example 4-1: tau 2.16 s, to 99 % of the step takes 10 s. A fall is a rise upside down."""
    assert CoolTo(1, 2.16).seconds(100, 0) == 10


def test_what_is_cool_enough_waits_for_nothing():
    """At or below the limit already: no wait."""
    assert CoolTo(60, 29).seconds(60, 22) == 0
    assert CoolTo(60, 29).seconds(40, 22) == 0


def _operation(**change):
    given = {
        "placement": "front", "number": 1, "layers": (1,), "films": ("f",), "temperature": Window(300, 315),
        "dwell": Window(12, 15), "pressures": ("medium",), "peel": "cold", "peel_after": Window(20, None),
        "cool_to": (), "align_s": 8, "peel_s": 4, "cover_sheet": False,
    }  # fmt: skip
    return Operation(**(given | change))


def test_the_earliest_peel_is_the_latest_of_its_reasons():
    """The largest of the films' waits and of the cooling to each limit (contract, section 4)."""
    slow = CoolTo(100, 30)
    wait = math.ceil(30 * math.log((310 - 72) / (100 - 72)))
    assert _operation(cool_to=(slow,)).peel_window(310, 72) == Window(wait, None)
    assert _operation(cool_to=(CoolTo(300, 30),)).peel_window(310, 72) == Window(20, None)


def test_a_repress_has_no_layers_and_no_peel():
    """A closing without layers peels nothing."""
    repress = _operation(layers=(), films=(), peel=None, peel_after=None)
    assert repress.repress and repress.peel_window(300, 72) is None


@pytest.mark.parametrize(
    ("platen", "size", "footprint", "pieces"),
    [
        ((16, 20), (11, 9), None, 1),
        ((16, 20), (20, 16), None, 1),  # turned
        ((16, 20), (21, 9), None, 0),
        ((16, 20), (17, 17), None, 0),
        ((16, 20), (4, 4), (8, 10), 4),
        ((16, 20), (4, 4), (10, 8), 4),  # turned
        ((16, 20), (4, 4), (7, 9), 4),
        ((16, 20), (4, 4), (9, 11), 2),  # turned
        ((16, 20), (4, 4), (17, 17), 0),
        ((0.3, 0.3), (0.1, 0.1), (0.1, 0.1), 9),  # not 2 a side by a rounding of 0.3 / 0.1
    ],
)
def test_how_many_pieces_a_platen_holds(platen, size, footprint, pieces):
    """One a loading, or with a footprint the best grid with all pieces the same way round."""
    route = Route("g", "d", (), {"front": size}, 10, 4, footprint)
    assert route.capacity(platen, "front") == pieces


def test_a_problem_in_words():
    """Where, what was found, what is wrong and what would be right, on one line."""
    problem = Problem("shop.toml", '[[press]] 1 "a"', "platen", "16", "this must be a list", "Write [16, 20].")
    text = 'shop.toml, [[press]] 1 "a", platen = 16: this must be a list. Write [16, 20].'
    assert str(problem) == text
    assert str(BadInput([problem, problem])) == f"{text}\n{text}"
    assert NoPlan(["too much", "too late"]).reasons == ("too much", "too late")
