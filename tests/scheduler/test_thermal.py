"""Changes of setting, falling back overnight, and cooling before the peel (contract, section 4)."""

from __future__ import annotations

import math

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from models.operation import CoolTo
from models.shop import Press
from models.units import to_celsius
from scheduler import thermal
from tests.scheduler.days import press

ROOM = 72.0
RATES = press(settle_s=60, pressure_change_s=30)
MEASURED = press(heating={"ceiling": 520, "tau_min": 22}, cooling={"tau_min": 60}, settle_s=60, pressure_change_s=30)

degrees = st.integers(200, 430).map(float)
either = st.sampled_from([RATES, MEASURED])


@pytest.mark.parametrize(
    ("a", "b", "seconds"),
    [(300, 325, 60 + 60), (300, 301, 3 + 60), (325, 300, 375 + 60), (301, 300, 15 + 60), (72, 430, 860 + 60)],
)
def test_rates_are_degrees_a_minute_rounded_up_with_settling(a: float, b: float, seconds: int) -> None:
    """25 degrees a minute up and 4 down: ceil(60 (b - a) / rate) and the settling time."""
    assert thermal.change_seconds(RATES, a, b, ROOM) == seconds


def test_a_measured_response_follows_its_logarithms() -> None:
    """Up: tau ln((ceiling - a)/(ceiling - b)); down: tau ln((a - room)/(b - room)); worked by hand.

    22 min x ln(220/195) = 159.2 s and 60 min x ln(253/228) = 374.6 s, rounded up.
    """
    assert thermal.change_seconds(MEASURED, 300, 325, ROOM) == 160 + 60
    assert thermal.change_seconds(MEASURED, 325, 300, ROOM) == 375 + 60


@given(either, degrees)
def test_no_change_takes_no_time(machine: Press, t: float) -> None:
    """Where set-point and pressure stay, nothing passes, not even the settling."""
    assert thermal.change_seconds(machine, t, t, ROOM) == 0
    assert thermal.setting_seconds(machine, (t, "firm"), (t, "firm"), ROOM) == 0


@given(either, degrees, degrees)
def test_a_change_of_pressure_adds_its_own_time(machine: Press, a: float, b: float) -> None:
    """It is added to whatever the temperature takes."""
    same = thermal.setting_seconds(machine, (a, "firm"), (b, "firm"), ROOM)
    assert thermal.setting_seconds(machine, (a, "firm"), (b, "light"), ROOM) == same + 30


@given(either, degrees, degrees, degrees)
def test_a_stop_on_the_way_never_saves_time(machine: Press, a: float, b: float, c: float) -> None:
    """Going by another set-point takes at least as long as going there at once, but for rounding up."""
    by = thermal.change_seconds(machine, a, b, ROOM) + thermal.change_seconds(machine, b, c, ROOM)
    assert by >= thermal.change_seconds(machine, a, c, ROOM)


def test_a_bead_in_hot_gas() -> None:
    """A bead with tau about 1 s goes from 25 to 199 °C in gas of 200 °C within 5.2 s.

    Source: Incropera, Fundamentals of Heat and Mass Transfer, example 5.1.
    """
    bead = press(temperature=[10, 199.5], heating={"ceiling": 200, "tau_min": 1 / 60})
    assert thermal.heating_seconds(bead, 25, 199) == pytest.approx(5.2, abs=0.05)


def test_a_thermocouple_junction() -> None:
    """Çengel, Heat and Mass Transfer, example 4-1: h 210, rho 8500, c 320, 1 mm: tau 2.16 s, 99 % after 10 s."""
    length = 0.001 / 6  # volume over surface of a ball 1 mm across
    tau = 8500 * 320 * length / 210
    assert tau == pytest.approx(2.16, abs=0.005)
    junction = press(temperature=[0, 99.5], heating={"ceiling": 100, "tau_min": tau / 60})
    assert thermal.heating_seconds(junction, 0, 99) == pytest.approx(10, abs=0.1)


def test_an_aluminium_platen_cools_slowly() -> None:
    """15 x 15 x 1 in of aluminium at UA 2.5 W/K falls from 160 to 130 °C in about 15 min.

    Derived, with rho 2702 kg/m³ and c 903 J/kgK from Incropera, table A.1.
    """
    mass = 15 * 15 * 1 * 0.0254**3 * 2702
    heat = mass * 903
    assert mass == pytest.approx(9.96, abs=0.01)
    assert heat == pytest.approx(8960, rel=0.01)
    platen = press(cooling={"tau_min": heat / 2.5 / 60})
    assert thermal.cooling_seconds(platen, 160, 130, 22) / 60 == pytest.approx(15, abs=0.5)


def test_an_aluminium_platen_heats_in_minutes() -> None:
    """The same platen at 1.4 kW without loss: 9.4 K a minute (derived), so it climbs far faster than it falls."""
    rate = 1400 / 8960 * 60
    assert rate == pytest.approx(9.4, abs=0.05)
    platen = press(heat_up=rate, cooling={"tau_min": 8960 / 2.5 / 60})
    assert thermal.heating_seconds(platen, 130, 160) == pytest.approx(192, abs=1)
    assert thermal.cooling_seconds(platen, 160, 130, 22) > 4 * thermal.heating_seconds(platen, 130, 160)


def test_cotton_cools_in_half_a_minute() -> None:
    """180 g/m² cotton with a 90 µm film, one face free at h 15: tau about 29 s, 150 to 60 °C in 36 s (derived).

    In air of 22 °C, by Newton's law of cooling for a lumped body (Incropera, chapter 5).
    """
    assert CoolTo(below=60, tau_s=29).seconds(150, 22) == 36


def test_cooling_does_not_depend_on_the_unit() -> None:
    """Temperatures enter the cooldown as ratios of differences: Fahrenheit and Celsius give the same wait."""
    celsius = CoolTo(below=to_celsius(100, "F"), tau_s=30).seconds(to_celsius(320, "F"), to_celsius(72, "F"))
    assert CoolTo(below=100, tau_s=30).seconds(320, 72) == celsius == math.ceil(30 * math.log(248 / 28))


@given(st.integers(200, 400), st.floats(73, 199), st.floats(1, 300))
def test_after_its_cooldown_the_garment_is_cool_enough(setpoint: int, below: float, tau: float) -> None:
    """The wait is long enough by Newton's law, and a second less would not be."""
    wait = CoolTo(below, tau).seconds(setpoint, ROOM)
    assert ROOM + (setpoint - ROOM) * math.exp(-wait / tau) <= below + 1e-6
    assert wait == 0 or ROOM + (setpoint - ROOM) * math.exp(-(wait - 1) / tau) > below - 1e-6


def test_work_already_cool_enough_waits_for_nothing() -> None:
    """A press set below the peel temperature asks for no cooling."""
    assert CoolTo(below=320, tau_s=30).seconds(310, ROOM) == 0


@pytest.mark.parametrize(("hours", "shown"), [(0, 320), (0.5, 200), (1, 80), (15, 72), (63, 72)])
def test_overnight_a_press_falls_to_the_room_and_no_further(hours: float, shown: float) -> None:
    """At cool_down, 4 degrees a minute, down to the room's temperature."""
    assert thermal.resting(RATES, 320, hours * 3600, ROOM) == pytest.approx(shown)


def test_overnight_by_a_measured_response() -> None:
    """After one time constant 1/e of the difference is left (Newton's law of cooling)."""
    assert thermal.resting(MEASURED, 320, 3600, ROOM) == pytest.approx(ROOM + (320 - ROOM) / math.e)
    assert thermal.resting(MEASURED, 320, 15 * 3600, ROOM) == pytest.approx(ROOM, abs=1e-3)


@given(either, st.floats(-20, 72), st.floats(0, 1e6))
def test_a_press_colder_than_the_room_stays(machine: Press, t: float, seconds: float) -> None:
    """Switched off, a press does not get colder than it is, and counts as no warmer."""
    assert thermal.resting(machine, t, seconds, ROOM) == t


@given(either, degrees, st.floats(0, 5e4), st.floats(0, 5e4))
def test_resting_twice_is_resting_once(machine: Press, t: float, first: float, second: float) -> None:
    """Two stretches switched off come to the same as one of their length together."""
    once = thermal.resting(machine, t, first + second, ROOM)
    again = thermal.resting(machine, thermal.resting(machine, t, first, ROOM), second, ROOM)
    assert again == pytest.approx(once, abs=1e-6)


@given(either, degrees, degrees, st.floats(0.01, 0.99))
def test_part_way_and_seconds_agree(machine: Press, a: float, b: float, share: float) -> None:
    """The temperature part way through a change is the one that is reached in that time."""
    assume(a != b)

    def seconds(to: float) -> float:
        return thermal.heating_seconds(machine, a, to) if b > a else thermal.cooling_seconds(machine, a, to, ROOM)

    between = a + share * (b - a)
    assert thermal.part_way(machine, a, b, seconds(between), ROOM) == pytest.approx(between, abs=1e-6)


@given(either, degrees, degrees, st.floats(0, 1e5))
def test_part_way_stays_between(machine: Press, a: float, b: float, seconds: float) -> None:
    """Under way the platen is never outside the two set-points, and at the end it is there."""
    shown = thermal.part_way(machine, a, b, seconds, ROOM)
    assert min(a, b) - 1e-9 <= shown <= max(a, b) + 1e-9
    assert thermal.part_way(machine, a, b, 0, ROOM) == a
    done = thermal.change_seconds(machine, a, b, ROOM)
    assert thermal.part_way(machine, a, b, done, ROOM) == pytest.approx(b)


def test_a_first_order_press_never_cools_to_the_room() -> None:
    """It approaches the room's temperature for ever; at rates it gets there."""
    assert thermal.cooling_seconds(MEASURED, 300, ROOM, ROOM) == math.inf
    assert thermal.cooling_seconds(RATES, 300, ROOM, ROOM) == 3420


def test_a_press_starts_at_the_room_unless_it_says_otherwise() -> None:
    """at_start left out is the room's temperature; given, it holds, also where it is below the room's."""
    assert thermal.at_start(press(), ROOM) == ROOM
    assert thermal.at_start(press(at_start=50), ROOM) == 50
