"""The tables people write: strict, frozen, bounded."""

from __future__ import annotations

from datetime import datetime

import pytest
from pydantic import ValidationError

from models.catalog import PEEL_DEFAULTS, Film, Garment
from models.design import Design, Layer
from models.order import Order, OrderLine
from models.shop import Hours, Person, Press, Shop, clock, moment
from models.units import Window

FILM = {"id": "f", "temperature": [300, 315], "dwell_s": 12, "peel": "warm"}
PRESS = {"id": "p", "platen": [16, 20], "temperature": [200, 400], "heat_up": 20, "cool_down": 4}
LINE = {"order": "A", "line": "1", "garment": "g", "quantity": 3, "design": "d"}


@pytest.mark.parametrize(
    ("model", "table"), [(Film, FILM), (Press, PRESS), (OrderLine, LINE), (Person, {"id": "a"}), (Garment, {"id": "g"})]
)
def test_tables_are_strict_and_frozen(model, table):
    """Unknown keys are errors and instances never change."""
    item = model.model_validate(table)
    with pytest.raises(ValidationError):
        model.model_validate(table | {"colour": "blue"})
    with pytest.raises(ValidationError):
        item.id = "other"


@pytest.mark.parametrize(
    "name", ["", " a b;", "a,b", 'a"b', "a\tb", "a\nb", "a\0b", "=a", "+a", "-a", "@a", "a\u202eb", "x" * 81]
)
def test_names_that_would_break_a_table(name):
    """Ids hold no separators, quotes or control characters, and start no formula."""
    with pytest.raises(ValidationError):
        Person.model_validate({"id": name})


@pytest.mark.parametrize("name", ["ada", " ada ", "Ada B.", "a-1", "a=b", "Øystein", "李", "1"])
def test_names_that_are_fine(name):
    """Words, numbers, dashes inside and any script."""
    assert Person.model_validate({"id": name}).id == name.strip()


@pytest.mark.parametrize(
    ("text", "seconds"), [("08:00", 28_800), ("8:00", 28_800), ("24:00", 86_400), ("00:00:01", 1), (28_800, 28_800)]
)
def test_clock_times(text, seconds):
    """Times of day are seconds after midnight; 24:00 is the day's end (memory of ISO 8601-1:2019/Amd 1:2022)."""
    assert clock(text) == seconds


@pytest.mark.parametrize("text", ["8", "08:60", "24:01", "25:00", "8:0", "8 am", "", None, True, -1, 8.0, "08:00:60"])
def test_what_is_no_clock_time(text):
    """Anything else is refused with an example."""
    with pytest.raises(ValueError, match="08:00"):
        clock(text)


@pytest.mark.parametrize("text", ["2026-12-01T08:00", "2026-12-01 8:00", "2026-12-1 08:00:00", " 2026-12-01  08:00 "])
def test_moments(text):
    """Local times with a T or blanks between date and time."""
    assert moment(text) == datetime(2026, 12, 1, 8, 0)


@pytest.mark.parametrize(
    "text", ["2026-12-01", "2026-02-29T08:00", "1999-12-01T08:00", "2026-12-01T08:00+01:00", 5, None]
)
def test_what_is_no_moment(text):
    """Zones, days that do not exist and other notations are refused with an example."""
    with pytest.raises(ValueError, match="2026-12-01T08:00"):
        moment(text)


@pytest.mark.parametrize(
    ("peel", "given", "window"),
    [
        ("hot", None, Window(0, 5)),
        ("warm", None, Window(5, 30)),
        ("cold", None, Window(60, None)),
        ("cold", [40, 90], Window(40, 90)),
        ("cold", [40], Window(40, None)),
        ("cold", 40, Window(40, None)),
        ("warm", [4.5, 9.5], Window(5, 9)),
    ],
)
def test_peel_windows(peel, given, window):
    """Left out: hot [0, 5], warm [5, 30], cold [60, no latest] (contract, section 1)."""
    film = FILM | {"peel": peel} | ({} if given is None else {"peel_after_s": given})
    assert Film.model_validate(film).peel_window == window
    assert set(PEEL_DEFAULTS) == {"hot", "warm", "cold"}


def test_one_pressure_is_a_list_of_one():
    """pressure = "medium" and pressure = ["medium"] say the same."""
    one, many = (Film.model_validate(FILM | {"pressure": p}).pressure for p in ("medium", ["medium"]))
    assert one == many == ("medium",)


@pytest.mark.parametrize(
    "change",
    [
        {"temperature": 0}, {"temperature": 900}, {"temperature": [315, 300]}, {"dwell_s": 0}, {"dwell_s": 10_000},
        {"peel": "cool"}, {"pressure": []}, {"peel_after_s": [30, 5]}, {"tack_s": 0}, {"reheats": -1}, {"carrier": -1},
        {"repress_s": 0}, {"roll": [0, 10]}, {"peel_below": 10_000}, {"align_s": -1},
    ],
)  # fmt: skip
def test_absurd_films_are_refused(change):
    """Zero, negative and absurd figures."""
    with pytest.raises(ValidationError):
        Film.model_validate(FILM | change)


@pytest.mark.parametrize(
    ("iron", "given", "unit", "limit"),
    [
        (None, None, "F", None),
        (2, None, "F", 302.0),
        (2, None, "C", 150.0),
        (3, 290, "F", 290.0),
        (1, 290, "F", 230.0),
    ],
)
def test_a_garments_limit(iron, given, unit, limit):
    """The care label's dots by ISO 3758; where both are given the lower one holds."""
    table = {"id": "g"} | ({"iron": iron} if iron else {}) | ({"max_temperature": given} if given else {})
    found = Garment.model_validate(table).limit(unit)
    assert found == (None if limit is None else pytest.approx(limit))


@pytest.mark.parametrize(
    "change",
    [
        {"heat_up": None}, {"cool_down": None}, {"heating": {"ceiling": 500, "tau_min": 20}}, {"platen": [0, 1]},
        {"stations": 0}, {"stations": 7}, {"temperature": [400, 200]}, {"heat_up": 0}, {"settle_s": -1},
        {"garments": []}, {"heat_up": None, "heating": {"ceiling": 400, "tau_min": 20}},
        {"away": [["2026-12-01T15:00", "2026-12-01T14:00"]]},
    ],
)  # fmt: skip
def test_absurd_presses_are_refused(change):
    """A press heats and cools in exactly one way each, and its figures are sane."""
    with pytest.raises(ValidationError):
        Press.model_validate(PRESS | change)


def test_a_measured_press():
    """A first-order response stands instead of the rates."""
    table = {k: v for k, v in PRESS.items() if k not in ("heat_up", "cool_down")}
    press = Press.model_validate(table | {"heating": {"ceiling": 520, "tau_min": 22}, "cooling": {"tau_min": 60}})
    assert press.heating and press.heating.ceiling == 520 and press.heat_up is None


@pytest.mark.parametrize(
    "change", [{"open": "17:00", "close": "08:00"}, {"days": []}, {"breaks": [["12:30", "12:00"]]}]
)
def test_hours_that_cannot_be(change):
    """A shop opens before it closes, on at least one day."""
    with pytest.raises(ValidationError):
        Hours.model_validate(change)


def test_defaults_are_the_contracts():
    """What is left out is what the contract's example says."""
    shop = Shop.model_validate({"press": [PRESS], "person": [{"id": "a"}]})
    assert (shop.hours.open, shop.hours.close) == (28_800, 61_200)
    assert (shop.hands.load_s, shop.hands.align_s, shop.hands.unload_s, shop.hands.peel_s) == (10, 8, 4, 4)
    assert (shop.rules.late_open_s, shop.rules.rack, shop.rules.many_layers) == (3, None, 8)
    assert (shop.goals.change, shop.goals.peel_wait, shop.goals.finish) == (10, 1, 1)
    assert shop.room_temperature == 72


@pytest.mark.parametrize(
    "shape",
    [
        {},
        {"box": [0, 0, 1, 1], "outline": [[0, 0], [1, 0], [0, 1]]},
        {"outline": [[0, 0], [1, 1], [0, 0]]},
        {"box": [0, 0, 0, 1]},
        {"box": [0, 0, 1]},
    ],
)
def test_a_layer_has_one_shape(shape):
    """A box or an outline of at least three different points, not both."""
    with pytest.raises(ValidationError):
        Layer.model_validate({"film": "f"} | shape)


def test_a_design_is_personal_with_one_personal_layer():
    """One layer with its own cut makes the design a personal one."""
    layer = {"film": "f", "box": [0, 0, 1, 1]}
    places = [{"at": "a", "layer": [layer]}, {"at": "b", "layer": [layer, layer | {"personal": True}]}]
    assert not Design.model_validate({"id": "d", "placement": places[:1]}).personal
    assert Design.model_validate({"id": "d", "placement": places}).personal


def test_pieces_have_names():
    """<order>-<line>-<nnn>, from 001 (contract, section 1)."""
    line = OrderLine.model_validate(LINE)
    assert line.pieces == ("A-1-001", "A-1-002", "A-1-003")
    assert line.piece(1234) == "A-1-1234"


def test_an_order_is_the_sum_of_its_lines():
    """Earliest due, latest ready, highest priority, all pieces."""
    early, late = datetime(2026, 12, 1, 12), datetime(2026, 12, 2, 12)
    first = OrderLine.model_validate(LINE | {"due": late, "ready": early})
    second = OrderLine.model_validate(LINE | {"line": "2", "due": early, "priority": 2})
    order = Order("A", "", (first, second))
    assert (order.due, order.ready, order.priority, order.quantity) == (early, early, 2, 6)
    assert Order("A", "", (OrderLine.model_validate(LINE),)).due is None
