"""Temperatures, windows and the pairs people write for them."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.units import IRON_DOTS_C, Range, Window, from_celsius, inward, to_celsius


def test_ironing_dots():
    """ISO 3758:2023 (also ASTM D5489): one, two and three dots are 110, 150 and 200 °C at most."""
    assert IRON_DOTS_C == {1: 110.0, 2: 150.0, 3: 200.0}


@pytest.mark.parametrize(
    ("fahrenheit", "celsius"), [(305, 151.667), (320, 160.0), (325, 162.778), (302, 150.0), (32, 0.0), (-40, -40.0)]
)
def test_fahrenheit_and_celsius(fahrenheit, celsius):
    """NIST SP 811, B.8: t/°C = (t/°F - 32)/1.8, both ways."""
    assert to_celsius(fahrenheit, "F") == pytest.approx(celsius, abs=5e-4)
    assert from_celsius(to_celsius(fahrenheit, "F"), "F") == pytest.approx(fahrenheit)
    assert to_celsius(celsius, "C") == celsius


@pytest.mark.parametrize(
    ("lo", "hi", "window"),
    [
        (300, 315, Window(300, 315)),
        (300.2, 315.9, Window(301, 315)),
        (300.2, 300.8, None),
        (110 * 1.8 + 32, 150 * 1.8 + 32, Window(230, 302)),
    ],
)
def test_windows_are_rounded_inward(lo, hi, window):
    """Only whole degrees that lie inside count, and 150 °C is exactly 302 °F."""
    assert inward(lo, hi) == window


@given(st.floats(-1000, 1000), st.floats(0, 50))
def test_rounding_inward_never_reaches_out(lo, width):
    """No degree of the window lies outside what was written, and no whole degree inside is lost."""
    window = inward(lo, lo + width)
    inside = [n for n in range(math.floor(lo) - 1, math.ceil(lo + width) + 2) if lo - 1e-9 <= n <= lo + width + 1e-9]
    assert (list(range(window.lo, window.hi + 1)) if window else []) == inside


windows = st.builds(
    lambda lo, width: Window(lo, None if width is None else lo + width),
    st.integers(-50, 50),
    st.none() | st.integers(0, 40),
)


@given(windows, windows, st.integers(-120, 120))
def test_what_windows_have_in_common(a, b, value):
    """A value lies in the meeting of two windows if and only if it lies in both."""
    both = a.meet(b)
    assert (both is not None and value in both) == (value in a and value in b)
    assert a.meet(b) == b.meet(a)


@pytest.mark.parametrize(
    ("window", "text"), [(Window(5, None), "from 5"), (Window(5, 5), "5"), (Window(5, 9), "5 to 9")]
)
def test_windows_in_words(window, text):
    """A window reads as a person would say it."""
    assert str(window) == text


def test_one_number_may_run_over():
    """One number d gives [d, d + late], a pair is taken as it stands (contract, section 1)."""
    assert Range.read(15).seconds(3) == Window(15, 18)
    assert Range.read([15, 20]).seconds(3) == Window(15, 20)
    assert Range.read(14.2).seconds(3) == Window(15, 18)


@pytest.mark.parametrize(
    "value", ["15", True, [1], [1, 2, 3], [2, 1], [1, "2"], None, float("nan"), [0, float("inf")], {}]
)
def test_what_is_no_range(value):
    """Anything but a number or a rising pair is refused, with what to write."""
    with pytest.raises(ValueError, match="write"):
        Range.read(value)
