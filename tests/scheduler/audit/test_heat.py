"""The audit's own thermal arithmetic against handbooks and worked figures."""

from __future__ import annotations

import math

import pytest

from models.shop import Press
from scheduler.audit.heat import change_time, cooled, fallen, first_order

RATES = Press.model_validate(
    {"id": "a", "platen": [16, 20], "temperature": [200, 430], "heat_up": 25, "cool_down": 4, "settle_s": 60}
    | {"pressures": ["medium", "firm"], "pressure_change_s": 30}
)
MEASURED = Press.model_validate(
    {"id": "b", "platen": [16, 20], "temperature": [200, 430], "settle_s": 60}
    | {"heating": {"ceiling": 520, "tau_min": 22}, "cooling": {"tau_min": 60}}
)


def test_a_bead_in_hot_gas() -> None:
    """Incropera, example 5.1: a junction with tau about 1 s goes from 25 to 199 °C in gas of 200 °C in 5.2 s."""
    assert first_order(1.0, 25, 199, 200) == pytest.approx(5.2, abs=0.05)


def test_a_junction_to_ninety_nine_percent() -> None:
    """Çengel, example 4-1: with tau 2.16 s it takes 10 s to 99 % of the step, from any start."""
    assert first_order(2.16, 0, 99, 100) == pytest.approx(10, abs=0.06)


def test_a_pressed_garment_cools() -> None:
    """180 g/m² cotton with film, tau about 29 s: 150 to 60 °C in air of 22 °C in 36 s (derived, lumped cooling)."""
    assert cooled(29, 150, 60, 22) == pytest.approx(36, abs=1)


def test_an_aluminium_platen_falls() -> None:
    """8.96 kJ/K at UA 2.5 W/K (tau 59.7 min, derived): 160 to 130 °C in a room of 22 °C in about 15 min."""
    assert first_order(8960 / 2.5, 160, 130, 22) / 60 == pytest.approx(15, abs=0.8)


@pytest.mark.parametrize(
    ("press", "old", "new", "seconds"),
    [
        (RATES, (305, "medium"), (305, "medium"), 0),
        (RATES, (305, "medium"), (305, "firm"), 30),
        (RATES, (305, "medium"), (330, "medium"), 120),  # 25 degrees at 25 a minute
        (RATES, (305, "medium"), (306, "firm"), 93),  # 2.4 s up to 3, 60, 30
        (RATES, (325, "medium"), (305, "medium"), 360),  # 20 degrees at 4 a minute
        (RATES, (72, None), (305, "firm"), 620),  # warm-up: the pressure costs nothing
        (MEASURED, (72, "medium"), (305, "medium"), 970 + 60),  # 1320 ln(448/215) = 969.08
        (MEASURED, (325, "medium"), (305, "medium"), 297 + 60),  # 3600 ln(253/233) = 296.46
    ],
)
def test_changes(press: Press, old: tuple[float, str | None], new: tuple[float, str], seconds: int) -> None:
    """A change takes its rate or response, rounded up, then settling and the pressure's own time."""
    assert change_time(press, old, new, 72) == seconds


def test_what_is_never_reached() -> None:
    """Nothing cools to the room's temperature or below it, and a garment peeled below it never is."""
    assert change_time(MEASURED, (305, "medium"), (72, "medium"), 72) == math.inf
    assert cooled(30, 305, 70, 72) == math.inf
    assert cooled(30, 90, 100, 72) == 0


def test_a_press_falls_back_overnight() -> None:
    """Fifteen closed hours bring a press to the room's temperature; half of tau·2·ln 2 brings it half way."""
    assert fallen(RATES, 305, 15 * 3600, 72) == 72
    assert fallen(RATES, 305, 60, 72) == 301
    assert fallen(MEASURED, 305, 3600 * math.log(2), 72) == pytest.approx(72 + 233 / 2)
    assert fallen(RATES, 60, 3600, 72) == 60
