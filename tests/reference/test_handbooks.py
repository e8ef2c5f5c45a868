"""Figures of standards and handbooks against what the program reckons; the source stands beside each.

Others stand with their rooms: ironing dots and conversions in tests/models/test_units.py, lumped cooling (Incropera,
Çengel) in tests/scheduler/test_thermal.py, and written apart in tests/scheduler/audit/test_heat.py.
"""

from __future__ import annotations

import itertools
import math
import random
from datetime import datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from models.plan import Plan, Row
from models.units import from_celsius, inward, to_celsius
from scheduler import thermal
from scheduler.output.cautions import CAUTIONS
from scheduler.planning import plan_day
from tests.scheduler.audit.test_real_plans import NAMES, planned
from tests.scheduler.breakdown.days import PRESS, film, front, laid, pile, strip
from tests.scheduler.days import day, press

# Memory of ISO 13732-1:2006: burn thresholds in degrees Celsius by how long skin touches.
BARE_METAL_1_MIN, ANYTHING_10_MIN, ANYTHING_8_H = 51, 48, 43
# Memory of ASTM C1055: to 44 °C skin takes no harm within six hours, from 70 °C on it burns within a second.
NO_HARM, AT_A_TOUCH = 44, 70

# --- ISO 22400-2 -----------------------------------------------------------------------------------------------


def seconds_of(rows: list[Row], press_id: str) -> tuple[int, int, int]:
    """(production, setup, warm-up) seconds of a press, counted second by second from the rows.

    Production: something lies on it. Setup: it is being changed. The first change of a date is the warm-up.
    """
    mine = sorted((row for row in rows if row.press == press_id), key=lambda row: row.start)
    begun, production = rows[0].start, set[int]()
    setup = warm = 0
    dates = set()
    lying: dict[int | None, list[Row]] = {}
    for row in mine:
        if row.what != "change":
            lying.setdefault(row.loading, []).append(row)
    for held in lying.values():
        first, last = ((at - begun).total_seconds() for at in (held[0].start, max(row.end for row in held)))
        production.update(range(round(first), round(last)))
    for row in (row for row in mine if row.what == "change"):
        if row.start.date() in dates:
            setup += row.seconds
        else:
            warm += row.seconds
        dates.add(row.start.date())
    return len(production), setup, warm


@pytest.mark.parametrize("name", NAMES)
def test_setup_rate(name: str) -> None:
    """Setup rate = actual setup time ÷ actual processing time, and processing is production and setup together.

    Memory of ISO 22400-2 (AUST, AUPT, APT). A press's busy minutes are its processing with the warm-ups, the plan's
    change minutes the setup of all presses, so that both give the same rate as the rows.
    """
    plan, rows = planned(name).plan, planned(name).rows
    counted = {busy.id: seconds_of(rows, busy.id) for busy in plan.presses}
    for busy in plan.presses:
        assert busy.busy_min == pytest.approx(sum(counted[busy.id]) / 60, abs=0.011)
    setup = sum(s for _, s, _ in counted.values())
    processing = sum(p + s for p, s, _ in counted.values())
    warm = sum(w for _, _, w in counted.values())
    told = plan.goals.change_min / (sum(busy.busy_min for busy in plan.presses) - warm / 60)
    assert 0 <= told == pytest.approx(setup / processing, abs=1e-3)


@pytest.mark.parametrize("name", NAMES)
def test_availability(name: str) -> None:
    """Availability = actual production time ÷ planned busy time, between nothing and all (memory of ISO 22400-2).

    Planned busy time: what the press is there for until the last piece is done. Campaigns hold all production.
    """
    made = planned(name)
    shop = made.day.shop.hours
    for busy in made.plan.presses:
        production, setup, warm = seconds_of(made.rows, busy.id)
        open_s = opened(made.plan, shop.open, shop.close, shop.days)
        assert 0 <= production / open_s <= (production + setup + warm) / open_s <= 1
        inside = sum((c.end - c.start).total_seconds() for c in made.plan.campaigns if c.press == busy.id)
        assert production <= inside


def opened(plan: Plan, opens: int, closes: int, days: tuple[str, ...] | None) -> float:
    """Seconds the shop is open from the plan's start to its finish, breaks left in."""
    total, date = 0.0, plan.start.date()
    while date <= plan.finish.date():
        midnight = datetime.combine(date, datetime.min.time())
        if days is None or f"{date:%a}".lower() in days:
            begin = max(plan.start, midnight + timedelta(seconds=opens))
            end = min(plan.finish, midnight + timedelta(seconds=closes))
            total += max(0.0, (end - begin).total_seconds())
        date += timedelta(days=1)
    return total


# --- burns ----------------------------------------------------------------------------------------------------


def test_the_burn_threshold_of_metal_stands_in_the_cautions() -> None:
    """Bare metal of 51 °C burns within a minute (memory of ISO 13732-1:2006); in Fahrenheit 124, rounded."""
    (sentence,) = [text for text in CAUTIONS if f"{BARE_METAL_1_MIN} °C" in text]
    assert "burn" in sentence and "metal" in sentence and "minute" in sentence
    assert f"{round(from_celsius(BARE_METAL_1_MIN, 'F'))} °F" in sentence


@pytest.mark.parametrize("name", NAMES)
def test_every_setting_of_a_scenario_burns_at_a_touch(name: str) -> None:
    """No set-point of a plan is anywhere near harmless, so the caution belongs on every page (memory of ASTM C1055)."""
    made = planned(name)
    unit = made.day.shop.units.temperature
    coolest = min(to_celsius(c.temperature, unit) for c in made.plan.campaigns)
    assert coolest > AT_A_TOUCH > BARE_METAL_1_MIN > ANYTHING_10_MIN > NO_HARM > ANYTHING_8_H


def test_what_is_peeled_cold_burns_nobody() -> None:
    """Where scenarios say below what a garment is peeled, it is under the threshold for eight hours' touch."""
    below = [
        to_celsius(film.peel_below, made.day.shop.units.temperature)
        for made in map(planned, NAMES)
        for film in made.day.films.values()
        if film.peel_below is not None
    ]
    assert below and max(below) < ANYTHING_8_H


# --- NIST SP 811 ----------------------------------------------------------------------------------------------


@given(st.integers(100, 450), st.integers(0, 60))
def test_an_interval_is_five_ninths(low: int, width: int) -> None:
    """NIST SP 811, B.8: a difference of temperatures in kelvins is 5/9 of that in Fahrenheit, whatever its place."""
    assert to_celsius(low + width, "F") - to_celsius(low, "F") == pytest.approx(width * 5 / 9)


@given(st.integers(100, 200), st.integers(1, 30))
def test_whole_degrees_celsius_are_not_lost_in_fahrenheit(low: int, width: int) -> None:
    """A window in whole degrees Celsius turned to Fahrenheit, rounded inward and back, never grows."""
    window = inward(from_celsius(low, "F"), from_celsius(low + width, "F"))
    assert window is not None and window.hi is not None
    assert low - 1e-9 <= to_celsius(window.lo, "F") <= to_celsius(window.hi, "F") <= low + width + 1e-9


# --- an aluminium platen ---------------------------------------------------------------------------------------

# Derived with rho 2702 kg/m³ and c 903 J/kgK (Incropera, table A.1): 15 x 15 x 1 in, 1.4 kW, UA 2.5 W/K, room 22 °C.
HEAT = 15 * 15 * 1 * 0.0254**3 * 2702 * 903
POWER, LOSS, ROOM = 1400.0, 2.5, 22.0
TAU_MIN = HEAT / LOSS / 60
PLATEN = press(
    temperature=[100, 220],
    heating={"ceiling": ROOM + POWER / LOSS, "tau_min": TAU_MIN},
    cooling={"tau_min": TAU_MIN},
)


def stepped(start: float, end: float, power: float) -> float:
    """Seconds from one temperature to another by heat balance, C dT/dt = P - UA (T - room), in steps of 0.02 s."""
    now, seconds, step = start, 0.0, 0.02
    while (now < end) if end > start else (now > end):
        now += step * (power - LOSS * (now - ROOM)) / HEAT
        seconds += step
    return seconds


@pytest.mark.parametrize(("start", "end"), [(22, 150), (150, 163), (22, 200)])
def test_a_platen_heats_as_its_heat_balance_says(start: float, end: float) -> None:
    """The measured-response model is the solution of the lumped heat balance (Incropera, 5.3, general analysis)."""
    assert thermal.heating_seconds(PLATEN, start, end) == pytest.approx(stepped(start, end, POWER), rel=1e-3)


@pytest.mark.parametrize(("start", "end"), [(163, 150), (160, 130), (200, 100)])
def test_a_platen_cools_as_its_heat_balance_says(start: float, end: float) -> None:
    """Switched off, C dT/dt = -UA (T - room): the same in steps as in the formula."""
    assert thermal.cooling_seconds(PLATEN, start, end, ROOM) == pytest.approx(stepped(start, end, 0), rel=1e-3)


def test_a_platens_biot_number_allows_lumping() -> None:
    """Bi = h L / k is far below 0.1 for an inch of aluminium in air: k 237 W/mK, h 25 at most (Incropera, 5.2)."""
    assert 25 * 0.0254 / 237 < 0.1 / 30


def test_a_platens_first_minute_is_the_power_over_its_heat() -> None:
    """From the room's temperature 1.4 kW gives 9.4 K a minute at first (derived)."""
    assert 60 / thermal.heating_seconds(PLATEN, ROOM, ROOM + 1) == pytest.approx(9.37, abs=0.05)


def test_a_day_that_climbs_is_easier_than_one_that_drops() -> None:
    """On that platen 150 to 163 °C takes a third of the time of 163 to 150 (common practice; here derived)."""
    climb, drop = (thermal.change_seconds(PLATEN, *way, ROOM) for way in ((150, 163), (163, 150)))
    assert drop > 3 * climb


# --- interval stabbing -----------------------------------------------------------------------------------------


def fewest_points(windows: list[tuple[int, int]]) -> int:
    """The fewest degrees that hit every window, by trying all sets of upper ends (no greedy)."""
    ends = sorted({hi for _, hi in windows})
    for count in range(1, len(ends) + 1):
        for points in itertools.combinations(ends, count):
            if all(any(lo <= p <= hi for p in points) for lo, hi in windows):
                return count
    return 0


@settings(max_examples=8)
@given(st.lists(st.tuples(st.integers(260, 400), st.integers(0, 40)), min_size=2, max_size=6), st.integers(1, 2))
def test_a_plan_uses_no_more_set_points_than_windows_need(drawn: list[tuple[int, int]], presses: int) -> None:
    """Where a change is dear, set-points are the fewest that stab all windows: presses share them (textbook)."""
    windows = [(lo, lo + width) for lo, width in drawn]
    films = [film(f"f{n}", temperature=list(window)) for n, window in enumerate(windows)]
    designs = {f"d{n}": {"front": [pile(f"f{n}")]} for n in range(len(windows))}
    machines = [{**PRESS, "id": f"m{k}", "settle_s": 60} for k in range(presses)]
    people = [{"id": f"at-{k}", "presses": [f"m{k}"]} for k in range(presses)]
    made = day(films, designs, [(d, 1) for d in designs], presses=machines, people=people, goals={"change": 10_000})
    plan = plan_day(made, "quick").plan
    assert plan.goals.changes == max(0, fewest_points(windows) - presses)


# --- common practice -------------------------------------------------------------------------------------------


def test_glitter_goes_on_last() -> None:
    """Glitter bonds badly under another film, at 325 °F and 15 s (common practice): over smooth, in a later closing."""
    smooth = film("smooth", temperature=[300, 320], tack_s=5)
    glitter = film("glitter", temperature=325, dwell_s=15, peel="warm", top_only=True)
    first, last = front([smooth, glitter], [pile("smooth"), pile("glitter")])
    assert first.films == ("smooth",) and last.films == ("glitter",)
    assert (last.temperature.lo, last.temperature.hi, last.dwell.lo) == (325, 325, 15)
    assert first.dwell.lo == 5  # tacked under what follows


def test_parts_that_do_not_touch_share_a_pressing() -> None:
    """Same heat and time, nothing touching: one pressing; a carrier in the way: two (common practice)."""
    apart = [strip("smooth", n) for n in range(4)]
    assert laid(front([film("smooth")], apart)) == [(1, 2, 3, 4)]
    assert len(front([film("smooth", carrier=1.5)], apart[:2])) == 2


def test_forty_to_seventy_pieces_an_hour() -> None:
    """One press and one person turn out 40 to 70 one-layer pieces an hour at ordinary hand times (common practice).

    The person's pace allows 15 % of the shift: standard time is basic time ÷ 0.85 (work-study texts, ILO).
    """
    made = day(
        [film("smooth", dwell_s=[15, 18], peel="warm")],
        {"crest": {"front": [pile("smooth")]}},
        [("crest", 60)],
        presses=[{**PRESS, "at_start": 310}],
        people=[{"id": "ada", "pace": 1 / 0.85}],
        hands={"load_s": 10, "align_s": 15, "unload_s": 4, "peel_s": 5},
    )
    goals = plan_day(made, "quick").plan.goals
    assert 40 <= 60 / (goals.work_min / 60) <= 70


def test_trying_all_sets_of_set_points_is_right() -> None:
    """Two points for three windows of which two meet, five for five single degrees; the platen's tau is an hour."""
    assert fewest_points([(300, 310), (305, 320), (330, 331)]) == 2
    rng = random.Random(1)
    assert fewest_points([(t, t) for t in rng.sample(range(300, 400), 5)]) == 5
    assert math.isclose(TAU_MIN, 59.7, abs_tol=0.3)
