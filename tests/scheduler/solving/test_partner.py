"""By the clock a second search runs beside the first: what it finds is taken up, and without it the first goes on."""

from __future__ import annotations

import sys
import time
from typing import Any

import pytest

from models.day import Day
from scheduler.breakdown import break_down, check_fits
from scheduler.instance import Instance, Routes
from scheduler.planning import plan_day
from scheduler.solving import solve as solving
from scheduler.solving.efforts import EFFORTS, Effort
from scheduler.solving.partner import Found, Partner
from scheduler.solving.solve import search_alone, solve
from scheduler.timetable.dispatch import dispatch
from tests.scheduler.days import faults, random_day

NORMAL = EFFORTS["normal"]


def failing(day: Day, routes: Routes, effort: Effort, seed: int, seconds: float) -> Found:
    """A search that breaks down."""
    raise ValueError(day.shop)


def endless(day: Day, routes: Routes, effort: Effort, seed: int, seconds: float) -> Found:
    """A search that doesn't keep to its time."""
    time.sleep(600)
    raise AssertionError(seconds)


def prepared(seed: int) -> tuple[Day, Routes]:
    """A drawn day with its routes."""
    made = random_day(seed)
    return made, check_fits(made, break_down(made))


def waited(partner: Partner) -> Found | None:
    """What the partner found, once it is over."""
    until = time.monotonic() + 60
    while not partner.over and time.monotonic() < until:
        if (found := partner.found()) is not None:
            return found
        time.sleep(0.05)
    assert partner.over
    return None


def test_a_partner_finds_a_whole_plan() -> None:
    """Played in its manner its programme breaks no rule and leaves no piece over; it is handed over once."""
    day, routes = prepared(6)
    partner = Partner(search_alone, day, routes, NORMAL, 5, 2.0)
    found = waited(partner)
    assert found is not None
    instance = Instance(day, found.chains)
    table = dispatch(instance, found.programme, found.manner)
    assert not faults(instance, table) and not table.unplaced
    assert partner.over and partner.found() is None


def test_a_partner_that_fails_has_found_nothing() -> None:
    """The first search is not disturbed."""
    assert waited(Partner(failing, *prepared(6), NORMAL, 0, 1.0)) is None


def test_where_no_process_can_be_begun_there_is_no_partner(monkeypatch: pytest.MonkeyPatch) -> None:
    """Planning by the clock goes on alone."""
    monkeypatch.setattr(sys, "executable", "/nowhere/python")
    partner = Partner(failing, *prepared(6), NORMAL, 0, 1.0)
    assert partner.over and partner.found() is None
    partner.end()
    day, routes = prepared(6)
    solution = solve(day, routes, NORMAL, seconds=3.0)
    assert not faults(solution.instance, solution.table)


def test_a_partner_given_up_is_gone() -> None:
    """Its process ends at once, whatever it is at."""
    partner = Partner(endless, *prepared(6), NORMAL, 0, 1.0)
    began = time.monotonic()
    partner.end()
    assert time.monotonic() - began < 30 and partner.found() is None
    assert partner._process.poll() is not None


def test_what_the_partner_found_is_taken_up(monkeypatch: pytest.MonkeyPatch) -> None:
    """It is the best as soon as it is there, where it is better than a first plan, and what comes after is better."""
    day, routes = prepared(6)
    best = search_alone(day, routes, NORMAL, 1, 2.0)
    played = dispatch(Instance(day, best.chains), best.programme, best.manner)

    class Told(Partner):
        def __init__(self, *asked: object) -> None:
            self.over = False

        def found(self) -> Found | None:
            self.over, before = True, self.over
            return None if before else best

        def end(self) -> None:
            self.over = True

    told: list[tuple[str, tuple[float, float, float]]] = []
    monkeypatch.setattr(solving, "Partner", Told)
    answer = solve(day, routes, NORMAL, seconds=3.0, tell=lambda stage, table: told.append((stage, table.value)))
    stages = [stage for stage, _ in told]
    taken = stages.index("second search")
    assert told[0][1] > played.value and set(stages[:taken]) <= {"seed", "again"}
    assert told[taken][1] == played.value and answer.table.value <= played.value


def test_no_partner_is_left_behind(monkeypatch: pytest.MonkeyPatch) -> None:
    """When a plan by the clock is there, its partner's process has ended."""
    partners: list[Partner] = []

    class Noted(Partner):
        def __init__(self, *asked: Any) -> None:
            super().__init__(*asked)
            partners.append(self)

    monkeypatch.setattr(solving, "Partner", Noted)
    plan_day(random_day(6), "normal", seconds=4.0)
    assert [partner._process.poll() is not None for partner in partners] == [True]
