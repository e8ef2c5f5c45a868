"""A shop that closes at 24:00 and opens at 0:00 does not close: no press is warmed up for the new date."""

from __future__ import annotations

import pytest

from models.day import Day
from models.plan import Row
from scheduler.audit import audit_rows, measure
from scheduler.planning import plan_day
from tests.reference.days import job_shop, shop_instance
from tests.scheduler.audit.bench import WALL, WORDS, Bench, make_day

ALWAYS = {"open": "00:00", "close": "24:00"}


def over_midnight(warm: int | None = None, **hours: object) -> tuple[Day, list[Row]]:
    """A piece before midnight and one ten minutes after; `warm`: seconds of a warm-up between them."""
    day = make_day(presses=[WALL | WORDS | {"at_start": 305}], hours={**ALWAYS, **hours})
    bench = Bench(day).change("wall", 305, "medium", 0).at("23:50:00").loading("wall", [1])
    bench.at("00:00:00", 2)
    if warm is not None:
        bench.change("wall", 305, "medium", warm)
    return bench.at("00:10:20", 2).loading("wall", [2]).done()


def test_a_press_goes_on_over_midnight() -> None:
    """Nothing is missing before the first loading of the new date, and what was set stays so."""
    assert audit_rows(*over_midnight()) == []


def test_a_second_setting_after_midnight_is_a_change() -> None:
    """Set again to what it is at: no warm-up, but a change that changes nothing, and it counts."""
    day, rows = over_midnight(warm=60)
    assert [finding.rule for finding in audit_rows(day, rows)] == ["change-idle"]
    assert measure(day, rows).changes == 1


def test_where_a_minute_is_closed_the_press_is_warmed_up_again() -> None:
    """Closed from 23:59, four degrees lost: a warm-up of 9.6 s, up to 10, and 60 to settle."""
    day, rows = over_midnight(close="23:59")
    assert [finding.rule for finding in audit_rows(day, rows)] == ["warm-up-missing"]
    assert audit_rows(*over_midnight(warm=70, close="23:59")) == []
    assert [finding.rule for finding in audit_rows(*over_midnight(warm=69, close="23:59"))] == ["change-too-short"]


@pytest.mark.parametrize("name", ["la11"])
def test_a_plan_that_runs_through_the_night_is_sound(name: str) -> None:
    """A job shop of twenty hours, which the planner lets run on over midnight (Lawrence 1984)."""
    machine, minutes, _ = shop_instance(name)
    planned = plan_day(job_shop(machine, minutes), "quick")
    assert audit_rows(planned.day, planned.rows) == []
