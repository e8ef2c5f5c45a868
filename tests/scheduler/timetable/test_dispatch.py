"""Programmes become clock times that keep every rule; the auditor, who shares no code with them, says so."""

from __future__ import annotations

import random
from collections import defaultdict
from typing import Any

import pytest

from models.day import Day
from models.plan import Row
from scheduler.timetable.dispatch import dispatch
from scheduler.timetable.manner import MANNERS, Manner
from scheduler.timetable.rows import rows_of
from tests.reference.days import machines
from tests.scheduler.breakdown.days import PRESS, TEE, Table, film, pile, strip
from tests.scheduler.days import at, day, faults, instance_of, programmes, random_day

SEEDS = [
    *range(40),
    *(pytest.param(seed, marks=pytest.mark.thorough) for seed in range(40, 140)),
]
AUTO: Table = {**PRESS, "auto_open": True}
TWO: Table = {**PRESS, "stations": 2}
ADA: Table = {"id": "ada"}
BEN: Table = {"id": "ben"}


def every_fault(made: Day) -> dict[tuple[int, Manner], list[str]]:
    """What is wrong with any of the first programmes of a day, in any manner."""
    instance = instance_of(made)
    found = {}
    for number, plan in enumerate(programmes(instance)[:3]):
        for manner in MANNERS:
            wrong = faults(instance, dispatch(instance, plan, manner))
            if wrong:
                found[number, manner] = wrong
    return found


@pytest.mark.parametrize("seed", SEEDS)
def test_every_programme_of_a_drawn_day_keeps_every_rule(seed: int) -> None:
    """All pieces find their time, no auditor's rule is broken, and the figures are those of the rows."""
    assert not every_fault(random_day(seed))


def one_design(pieces: int, layers: list[Table] | None = None, garment: Table = TEE, **given: Any) -> Day:
    """A day of one order of one design with films a and b; `given` goes to the films or to the day."""
    films = [film("a", **given.pop("a", {})), film("b", **given.pop("b", {}))]
    return day(films, {"d": {"front": layers or [pile("a")]}}, [("d", pieces)], garments=[garment], **given)


SMALL: dict[str, Day] = {
    "hot peel on a manual press": one_design(7),
    "hot peel on a press that opens by itself": one_design(7, presses=[AUTO]),
    "warm peel off the press": one_design(9, a={"peel": "warm"}),
    "warm peel that can't wait for a slow unloading": one_design(
        5, a={"peel": "warm", "peel_after_s": [1, 3]}, presses=[AUTO], garment={**TEE, "unload_s": 12}
    ),
    "cold peel to a temperature": one_design(
        8, a={"peel": "cold", "peel_below": 100}, garment={**TEE, "cooling_tau_s": 30}
    ),
    "two closings in one loading": one_design(6, [pile("a"), pile("b")]),
    "two closings with a warm peel between, the press opening by itself": one_design(
        6, [pile("a"), pile("b")], a={"peel": "warm", "peel_after_s": [5, 30]}, presses=[AUTO]
    ),
    "two closings at settings that don't meet": one_design(
        6, [pile("a"), pile("b")], a={"temperature": [280, 290]}, b={"temperature": [310, 320]}
    ),
    "a repress with a cover sheet": one_design(5, a={"repress_s": 5, "peel": "warm", "cover_sheet": True}),
    "a prepress before the layers": one_design(6, garment={**TEE, "prepress_s": [3, 6]}),
    "a gang of four": one_design(11, garment={**TEE, "footprint": [8, 10]}),
    "a gang with a prepress and strips of two films": one_design(
        9, [strip("a", 0), strip("b", 1)], {**TEE, "footprint": [8, 10], "prepress_s": 4}
    ),
    "two platens, manual": one_design(12, presses=[TWO], people=[ADA, BEN]),
    "two platens, opening by itself": one_design(12, presses=[{**TWO, "auto_open": True}]),
    "a rack of two": one_design(10, a={"peel": "cold"}, rules={"rack": 2}),
    "a gang larger than the rack": one_design(
        9, a={"peel": "cold"}, garment={**TEE, "footprint": [8, 10]}, rules={"rack": 3}
    ),
    "breaks": one_design(60, hours={"breaks": [["08:17", "08:30"], ["08:40", "08:41"]]}),
    "two days": one_design(70, hours={"open": "08:00", "close": "08:40"}),
    "days on which the shop is closed": one_design(40, hours={"close": "08:30", "days": ["tue", "sat"]}),
    "a slow and a quick pair of hands": one_design(
        20, presses=[PRESS, {**PRESS, "id": "wall"}], people=[{**ADA, "pace": 0.7}, {**BEN, "pace": 1.4}]
    ),
    "people who run one press each": one_design(
        20,
        a={"peel": "warm"},
        presses=[PRESS, {**PRESS, "id": "wall"}],
        people=[{**ADA, "presses": ["window"]}, {**BEN, "presses": ["wall"]}],
    ),
    "a person who comes late and goes early": one_design(
        40, people=[{**ADA, "open": "08:30", "close": "08:50"}, {**BEN, "days": ["wed"]}]
    ),
    "a press that is away": one_design(
        30, presses=[{**PRESS, "away": [(at(16), at(30))]}, {**PRESS, "id": "wall", "away": [(at(0), at(20))]}]
    ),
    "two pressures": one_design(
        6,
        [pile("a"), pile("b")],
        a={"pressure": "light"},
        b={"pressure": "firm"},
        presses=[{**PRESS, "pressures": ["light", "firm"], "pressure_change_s": 30}],
    ),
    "blanks that come later": day(
        [film("a")], {"d": {"front": [pile("a")]}}, [("d", 4, {"ready": at(30)}), ("d", 3, {"due": at(14)})]
    ),
    "two placements": day([film("a"), film("b")], {"d": {"front": [pile("a")], "back": [pile("b")]}}, [("d", 9)]),
}


@pytest.mark.parametrize("name", SMALL)
def test_every_programme_of_a_small_day_keeps_every_rule(name: str) -> None:
    """One thing of the trade at a time: the timetable stands before the auditor."""
    assert not every_fault(SMALL[name])


def test_the_same_programme_gives_the_same_rows() -> None:
    """Nothing is left to chance: a repeat from the files on is equal row by row."""
    first, second = (instance_of(random_day(3)) for _ in range(2))
    for a, b in zip(programmes(first)[:2], programmes(second)[:2], strict=True):
        assert rows_of(first, dispatch(first, a)) == rows_of(second, dispatch(second, b))


def test_a_dispatch_leaves_the_programme_as_it_was() -> None:
    """Playing one programme does not change what the next play of it gives."""
    instance = instance_of(random_day(5))
    plan = programmes(instance)[0]
    assert rows_of(instance, dispatch(instance, plan)) == rows_of(instance, dispatch(instance, plan))


def test_one_person_keeps_two_presses_going() -> None:
    """The rhythm of the trade (common practice): hands are never idle for want of an open press.

    60 pieces, load 9, lay 8, dwell 12 to 16, unload 4, peel 4 warm: the hands' 1500 s are the bound.
    """
    ready = {**PRESS, "at_start": 310}
    made = one_design(
        60,
        a={"dwell_s": [12, 16], "peel": "warm"},
        presses=[ready, {**ready, "id": "wall"}],
        hands={"load_s": 9, "align_s": 8, "unload_s": 4, "peel_s": 4},
        goals={"change": 0},
    )
    instance = instance_of(made)
    table = min((dispatch(instance, programmes(instance)[0], manner) for manner in MANNERS), key=lambda t: t.value)
    assert not faults(instance, table)
    assert 60 * (9 + 8 + 4 + 4) <= table.finish <= 1.02 * 60 * (9 + 8 + 4 + 4)


def test_one_person_with_one_press_waits_for_it() -> None:
    """With one press nothing hides the dwell but the peel: 9 + 8 + 12 + 4 s a piece, and the last peel's 4."""
    made = one_design(
        60,
        a={"dwell_s": [12, 16], "peel": "warm"},
        presses=[{**PRESS, "at_start": 310}],
        hands={"load_s": 9, "align_s": 8, "unload_s": 4, "peel_s": 4},
    )
    instance = instance_of(made)
    table = min((dispatch(instance, programmes(instance)[0], manner) for manner in MANNERS), key=lambda t: t.value)
    assert 60 * 33 <= table.finish <= 1.02 * 60 * 33 + 10


@pytest.mark.parametrize("seed", range(0, 40, 4))
def test_list_dispatching_keeps_grahams_bound(seed: int) -> None:
    """Independent work, a person at each press: (sum - longest) / m + longest (Graham 1966), but for the last peel.

    With times of at most a few seconds between: hands of no length, presses warm.
    """
    rng = random.Random(seed)
    seconds, count = [rng.randint(60, 900) for _ in range(rng.randint(3, 12))], rng.randint(2, 3)
    instance = instance_of(machines(seconds, count))
    for plan in programmes(instance):
        table = dispatch(instance, plan)
        assert not faults(instance, table)
        assert table.finish <= (sum(seconds) - max(seconds)) / count + max(seconds)


def rows_by_loading(name: str) -> dict[int, list[Row]]:
    """The rows of a small day's first programme."""
    instance = instance_of(SMALL[name])
    found: dict[int, list[Row]] = defaultdict(list)
    for row in rows_of(instance, dispatch(instance, programmes(instance)[0])):
        if row.loading is not None:
            found[row.loading].append(row)
    return found


def test_a_gang_fills_the_platen() -> None:
    """Eleven pieces of 8 x 10 in on 16 x 20 in: four, four and three."""
    sizes = [len(rows[0].pieces) for rows in rows_by_loading("a gang of four").values()]
    assert sizes == [4, 4, 3]


def test_operations_share_a_loading_where_one_setting_suits() -> None:
    """Two closings, one dressing: the garment stays on the platen between them."""
    for rows in rows_by_loading("two closings in one loading").values():
        whats = [row.what for row in rows]
        assert whats.count("load") == whats.count("unload") == 1
        assert whats.count("dwell") == whats.count("align") == whats.count("peel") == 2


def test_a_second_platen_is_dressed_under_the_others_heat() -> None:
    """With two stations some garment is laid while another is being pressed."""
    loadings = rows_by_loading("two platens, opening by itself")
    loads = [rows[0] for rows in loadings.values()]
    dwells = [row for rows in loadings.values() for row in rows if row.what == "dwell"]
    assert any(dwell.start <= load.start < dwell.end for load in loads for dwell in dwells)


def test_work_goes_on_the_next_day() -> None:
    """What a short day does not hold stands on the next, after a warm-up of its own."""
    instance = instance_of(SMALL["two days"])
    rows = rows_of(instance, dispatch(instance, programmes(instance)[0]))
    assert len({row.start.date() for row in rows if row.what == "load"}) == 2
    assert len({row.start.date() for row in rows if row.what == "change"}) == 2
