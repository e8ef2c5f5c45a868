"""What limits a day, and how work divides: days made so that the answer is known."""

from __future__ import annotations

import pytest

from scheduler.comparing.balance import balance_of
from scheduler.comparing.habit import habit
from scheduler.comparing.limits import RESOURCES, limit_of
from scheduler.comparing.run import by_habit
from scheduler.comparing.spent import hand_seconds, press_times
from scheduler.planning import plan_day
from tests.scheduler.breakdown.days import PRESS, film, strip
from tests.scheduler.days import at, day, faults, instance_of

PLAIN = {"plain": {"front": [strip("navy", 0)]}}
TWO = ({**PRESS, "id": "one"}, {**PRESS, "id": "two"})


@pytest.mark.parametrize(
    ("limits", "made"),
    [
        ("hands", day([film("navy")], PLAIN, [("plain", 40)], presses=TWO, hands={"align_s": 30})),
        (
            "presses",
            day(
                [film("navy", dwell_s=[120, 125])],
                PLAIN,
                [("plain", 40)],
                presses=[{**PRESS, "auto_open": True, "at_start": 300}],
                people=[{"id": who} for who in ("ada", "bo")],
            ),
        ),
        (
            "heat",
            day(
                [film("navy"), film("hot", temperature=[390, 400])],
                {**PLAIN, "hot": {"front": [strip("hot", 0)]}},
                [("hot", 2), ("plain", 2)],
                presses=[{**PRESS, "heat_up": 5, "cool_down": 2}],
            ),
        ),
        (
            "cooling",
            day(
                [film("navy", peel="cold", peel_after_s=[900]), film("red", peel="cold", peel_after_s=[900])],
                {"both": {"front": [strip("navy", 0, box=[0, 0, 4, 4]), strip("red", 0, box=[1, 1, 2, 2])]}},
                [("both", 1)],
                presses=[{**PRESS, "at_start": 300}],
            ),
        ),
        ("blanks", day([film("navy")], PLAIN, [("plain", 5), ("plain", 5, {"ready": at(240)})])),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_each_limit_is_known_for_what_it_is(limits: str, made: object) -> None:
    """Slow hands on two presses, one press with long dwells, a cold slow press, a long cold peel between layers, and
    blanks that come at noon: each is named as what limits the day."""
    planned = plan_day(made, "quick")  # type: ignore[arg-type]
    assert limit_of(planned.day, planned.rows).limits == limits


def test_the_least_time_is_one_that_the_plan_keeps() -> None:
    """No plan ends before the least time reckoned from it, and easing never makes that time later."""
    made = day([film("navy")], PLAIN, [("plain", 20), ("plain", 5, {"ready": at(60)})], presses=TWO)
    planned = plan_day(made, "quick")
    limit = limit_of(made, planned.rows)
    assert 0 < limit.least_min <= (planned.plan.finish - planned.plan.start).total_seconds() / 60
    assert tuple(limit.eased_min) == RESOURCES and min(limit.eased_min.values()) >= 0


def test_a_presses_time_is_told_apart() -> None:
    """Six pieces of 10 s load, 8 align, 10 dwell, 4 peel and 4 unload press for 216 s; from 72 to 300 degrees at 25 a
    minute the warm-up takes 548 s; hands have 26 s a piece."""
    made = day([film("navy")], PLAIN, [("plain", 6)])
    rows = plan_day(made, "quick").rows
    (time,) = press_times(made, rows)
    assert (time.pressing, time.warm_up, time.setting, time.cooling, time.loadings) == (216, 548, 548, 0, 6)
    assert hand_seconds(rows) == 6 * 26


def test_why_work_is_not_even_is_told() -> None:
    """Work too large for the small press stays on the big one, and that is the reason given."""
    wide = {"wide": {"front": [{"film": "navy", "box": [0, 0, 14, 18]}]}}
    made = day([film("navy")], wide, [("wide", 30)], presses=(TWO[0], {**TWO[1], "platen": [10, 10]}))
    said = " ".join(balance_of(made, plan_day(made, "quick").rows))
    assert "one 100 %" in said and "18 min of what one presses, two cannot take at all" in said


def test_even_work_and_a_single_press_need_no_reason() -> None:
    """Two presses alike share about evenly and that is all that is said; of one press nothing is."""
    made = day([film("navy")], PLAIN, [("plain", 40)], presses=TWO, people=[{"id": "ada"}, {"id": "bo"}])
    assert balance_of(made, plan_day(made, "quick").rows)[-1] == "That is about even."
    alone = day([film("navy")], PLAIN, [("plain", 4)])
    assert balance_of(alone, plan_day(alone, "quick").rows) == []


def test_the_habit_takes_orders_by_due_time_at_the_middle_of_their_window() -> None:
    """By habit the order due first is pressed first, at 310 of 300 to 320 degrees, and the day keeps every rule."""
    films = [film("navy"), film("red", temperature=[300, 320])]
    designs = {**PLAIN, "red": {"front": [strip("red", 0)]}}
    made = day(films, designs, [("plain", 4, {"due": at(300)}), ("red", 4, {"due": at(100)})])
    table = habit(instance_of(made))
    assert faults(instance_of(made), table) == []
    _, plan, rows = by_habit(made)
    assert {row.temperature for row in rows} == {310}
    finish = {one.order: one.finish for one in plan.orders}
    assert finish["2"] < finish["1"]
