"""`pressday estimate`: what it promises about finishes, other orders and blanks."""

from __future__ import annotations

from datetime import datetime

import pytest

from models.day import Day
from models.order import OrderLine
from models.problem import NoPlan
from scheduler.audit import audit_rows
from scheduler.breakdown import break_down, check_fits
from scheduler.estimating.answer import Estimated, estimate
from scheduler.estimating.blanks import STEP, _holds, last_true
from scheduler.estimating.goals import Goal, limits_of
from scheduler.estimating.placing import place
from scheduler.estimating.today import Today, today_of
from scheduler.planning import plan_day
from tests.scheduler.breakdown.days import film, strip
from tests.scheduler.days import at, day

FILMS = [film("navy"), film("gold", temperature=[380, 390], dwell_s=[20, 22], peel="cold", peel_after_s=[40])]
DESIGNS = {"plain": {"front": [strip("navy", 0)]}, "hot": {"front": [strip("gold", 0)]}}
PRESSES = [
    {"id": "one", "platen": [16, 20], "temperature": [200, 430], "heat_up": 25, "cool_down": 4},
    {"id": "two", "platen": [16, 20], "temperature": [200, 430], "heat_up": 25, "cool_down": 4},
]


def busy_day() -> Day:
    """Two presses, one person, three promised orders, one of them tight."""
    orders = [
        ("plain", 20, {"due": at(30)}),
        ("hot", 15, {"due": at(60)}),
        ("plain", 10, {"due": at(200)}),
    ]
    return day(FILMS, DESIGNS, orders, presses=PRESSES)


def today(made: Day) -> Today:
    """The day with a quick plan."""
    routes = check_fits(made, break_down(made))
    found = today_of(made, routes, plan_day(made, "quick").rows, "a plan")
    assert found is not None
    return found


def line(design: str = "plain", quantity: int = 8, due: datetime | None = None) -> OrderLine:
    return OrderLine(order="new", line="1", garment="tee", design=design, quantity=quantity, due=due)


@pytest.fixture(scope="module")
def asked() -> Estimated:
    """Eight more pieces on the busy day, wanted at 10:30."""
    return estimate(today(busy_day()), [line(due=at(150))])


def test_the_plan_it_speaks_of_is_whole_and_sound(asked: Estimated) -> None:
    """The estimate is read off a whole plan of the day with the new order, which keeps every rule."""
    assert audit_rows(asked.instance.day, asked.rows) == []
    assert max(row.end for row in asked.rows if row.order == "new") == asked.answer.finish


def test_no_promise_suffers(asked: Estimated) -> None:
    """No order is later than its due time, or than it is today where that is later."""
    assert asked.answer.kept
    for order, limit in limits_of(asked.today).items():
        assert max(row.end for row in asked.rows if row.order == order) <= asked.today.day.at(limit)


def test_whoever_gets_later_is_told(asked: Estimated) -> None:
    """Every order that is done a minute or more later than today stands among the others, and no other does."""
    told = {one.order for one in asked.answer.others}
    moved = {
        order
        for order, finish in asked.today.finishes.items()
        if max(row.end for row in asked.rows if row.order == order) >= asked.today.day.at(finish + 60)
    }
    assert told == moved


def test_put_first_it_is_done_no_later() -> None:
    """Put before all else the order is done no later than with promises kept, and who pays for it is told."""
    made = busy_day()
    answer = estimate(today(made), [line("hot", 25)]).answer
    assert answer.first_finish <= answer.finish
    assert all(one.then > one.today for one in answer.first_others)


def test_the_latest_blanks_hold_and_a_step_later_none_was_found(asked: Estimated) -> None:
    """With blanks at the time given the order is still in time; with blanks one step later no plan was found, by the
    same search."""
    by, answer = asked.answer.blanks_by, asked.answer
    assert by is not None and answer.blanks_for == at(150)
    ready, due = asked.today.day.seconds(by), asked.today.day.seconds(answer.blanks_for)
    kept = place(asked.asked, Goal("kept"))
    assert _holds(asked.asked, due, ready, kept)
    assert not _holds(asked.asked, due, ready + STEP, kept)


def test_a_due_time_that_cannot_be_met_is_told() -> None:
    """Two hundred pieces in twenty minutes are late by minutes that are told, and no blanks come early enough."""
    answer = estimate(today(busy_day()), [line(quantity=200, due=at(20))]).answer
    assert answer.late_min == pytest.approx((answer.finish - at(20)).total_seconds() / 60, abs=0.01)
    assert answer.late_min > 0
    assert answer.blanks_by is None


def test_what_no_press_takes_has_no_estimate() -> None:
    """Art larger than every platen is refused with the reason, as a plan would refuse it."""
    wide = {**DESIGNS, "wide": {"front": [{"film": "navy", "box": [0, 0, 30, 30]}]}}
    made = day(FILMS, wide, [("plain", 5)], presses=PRESSES)
    with pytest.raises(NoPlan, match="platen"):
        estimate(today(made), [line("wide")])


def test_the_same_question_has_the_same_answer() -> None:
    """Effort is counted, not timed: two estimates of the same day are equal."""
    first, second = (estimate(today(busy_day()), [line()]).answer for _ in range(2))
    assert first == second


@pytest.mark.parametrize("border", range(1, 9))
def test_halving_finds_the_last_that_holds(border: int) -> None:
    """The last number that holds is found between one that does and one that doesn't."""
    assert last_true(lambda n: n < border, 0, 9) == border - 1
