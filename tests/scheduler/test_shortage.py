"""What is said where a day has no plan: a proof where there is one, and where there is none that as well."""

from __future__ import annotations

import pytest

from models.day import Day
from models.problem import NoPlan
from scheduler.breakdown import break_down
from scheduler.instance import Instance
from scheduler.planning import plan_day
from scheduler.solving.chains import default_chains
from scheduler.solving.least import hopeless, least_operations
from scheduler.timetable.shortage import UNPROVEN
from tests.scheduler.breakdown.days import PRESS, Table, film, pile
from tests.scheduler.days import day

COLD = {"peel": "cold", "peel_after_s": [60, None]}


def made(pieces: int, hours: Table, press: Table, **fields: object) -> Day:
    """Tees with one film on the front, in a shop of one press, one person and a rack for one piece."""
    return day(
        [film("f", dwell_s=12, **fields)],
        {"d": {"front": [pile("f")]}},
        [("d", pieces, {})],
        presses=[{**PRESS, **press}],
        people=[{"id": "w"}],
        hours=hours,
        rules={"rack": 1},
    )


def reasons(one: Day) -> tuple[str, ...]:
    with pytest.raises(NoPlan) as caught:
        plan_day(one, "quick")
    return caught.value.reasons


def test_too_short_for_a_warm_up_and_one_loading_is_proven() -> None:
    """A cold press takes ten minutes to 300 °F; a shop that opens for nine minutes presses nothing, ever."""
    said = reasons(made(1, {"open": "08:00", "close": "08:09"}, {"at_start": 72}))
    assert "1 of 1 pieces find no time" in said[0] and UNPROVEN not in said


def test_more_than_two_weeks_of_hands_is_proven() -> None:
    """Each piece asks for more than half a minute of a platen that is warm for minutes a day."""
    said = reasons(made(500, {"open": "08:00", "close": "08:12"}, {"at_start": 310, "settle_s": 0}))
    assert UNPROVEN not in said


def test_what_only_was_not_found_says_so() -> None:
    """The first day alone is warm enough: in three minutes pieces wait for one place on the rack."""
    hot = {"at_start": 310, "settle_s": 0, "stations": 2}
    said = reasons(made(5, {"open": "08:00", "close": "08:03"}, hot, **COLD))
    assert said[-1] == UNPROVEN and "pieces find no time" in said[0]


def test_nobody_need_be_there_while_a_press_is_closed() -> None:
    """One dresses the platen and leaves, the press opens by itself, another unloads: that is a plan, and no proof says
    that it is none."""
    one = day(
        [film("f", dwell_s=200)],
        {"d": {"front": [pile("f")]}},
        [("d", 1, {})],
        presses=[{**PRESS, "at_start": 310, "settle_s": 0, "auto_open": True}],
        people=[{"id": "early", "close": "08:01"}, {"id": "late", "open": "08:03"}],
        hours={"open": "08:00", "close": "08:10"},
    )
    instance = Instance(one, default_chains(one, break_down(one)))
    assert not hopeless(instance, least_operations(one, break_down(one)))
