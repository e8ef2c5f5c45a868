"""Stated finishes and chances: repeatable, true on fresh days, harmless to the audit."""

from __future__ import annotations

import json
import math
import shutil
from datetime import timedelta
from pathlib import Path

import numpy as np
import pytest

from models.plan import Finish
from models.shop import Spread
from scheduler.audit import audit_folder
from scheduler.likely import foresee, holds, network_of, play
from scheduler.output.files import finish_csv, read_plan
from scheduler.output.likely_words import chance, likely_lines, likely_table
from scheduler.output.report import report
from scheduler.writing import plan_and_write
from tests.scheduler.output.planned import ROOT, planned

DAYS = 400
FRESH = 800


def test_the_same_plan_and_seed_give_the_same_figures() -> None:
    """Nothing but the day, the plan and the seed decides; another seed gives nearly but not quite the same."""
    made = planned("mixed-peels")
    first, again = (foresee(made.day, made.plan, made.rows, days=60) for _ in range(2))
    other = foresee(made.day, made.plan, made.rows, days=60, seed=99)
    assert first == again
    assert first.orders != other.orders


@pytest.mark.parametrize("name", ["team-shirts", "two-presses"])
def test_stated_finishes_hold_as_often_as_they_say_on_fresh_days(name: str) -> None:
    """On days drawn with another seed the stated times hold within the bounds of two binomial samples (4 sigma)."""
    made = planned(name)
    said = foresee(made.day, made.plan, made.rows, days=DAYS)
    fresh = play(made.day, network_of(made.day, made.rows), made.day.shop.spread, FRESH, seed=4711).finish
    for order in said.orders:
        for share, at in ((0.5, order.holds_50), (0.8, order.holds_80), (0.95, order.holds_95)):
            assert at is not None
            held = float(np.mean(fresh[order.order] <= made.day.seconds(at)))
            sigma = math.sqrt(share * (1 - share) * (1 / DAYS + 1 / FRESH))
            assert abs(held - share) < 4 * sigma + 1 / DAYS, (order.order, share, held)


def test_a_stated_chance_is_the_share_of_fresh_days_on_time() -> None:
    """The chance of being on time comes true on fresh days, for due times all along what may happen."""
    made = planned("team-shirts")
    order = next(o for o in made.plan.orders if o.order == "2104")
    fresh = play(made.day, network_of(made.day, made.rows), made.day.shop.spread, FRESH, seed=815).finish["2104"]
    for minutes in (-5, 0, 4, 8, 15, 25):
        due = order.finish + timedelta(minutes=minutes)
        plan = made.plan.model_copy(update={"orders": (order.model_copy(update={"due": due}),)})
        (said,) = foresee(made.day, plan, made.rows, days=DAYS).orders
        assert said.on_time is not None
        held = float(np.mean(fresh <= made.day.seconds(due)))
        sigma = math.sqrt(max(held * (1 - held), 1 / FRESH) * (1 / DAYS + 1 / FRESH))
        assert abs(held - said.on_time) < 4 * sigma


def test_more_spread_is_never_promised_sooner() -> None:
    """Wider spreads give later finishes for the careful."""
    made = planned("team-shirts")
    network = network_of(made.day, made.rows)
    late = [
        holds(play(made.day, network, Spread(hands=h, pace=h / 4, spoil=h / 10), 200, seed=1).finish["2104"], 0.95)
        for h in (0.0, 0.1, 0.25, 0.5)
    ]
    assert late == sorted(late) and late[0] < late[-1]


def test_a_finish_that_holds_is_the_smallest_that_does() -> None:
    """Of ten days the eighth holds in 80 of 100, to the whole second above."""
    days = np.array([10.2, 3, 4, 5, 6, 7, 8, 9, 1, 2])
    assert [holds(days, share) for share in (0.5, 0.8, 0.95, 1)] == [5, 8, 11, 11]


def test_a_written_plan_says_what_is_likely_and_its_audit_finds_nothing(tmp_path: Path) -> None:
    """finish.csv and plan.json carry the likely finishes; the auditor is not disturbed by them."""
    folder = tmp_path / "day"
    shutil.copytree(ROOT / "scenarios" / "team-shirts", folder)
    plan_and_write(folder, "quick", None, 0, as_json=True)
    assert audit_folder(folder) == []
    header, *lines = (folder / "plan" / "finish.csv").read_text(encoding="utf-8").splitlines()
    assert header.endswith("slack_min,holds_50,holds_80,holds_95,on_time")
    assert all(not line.endswith(",") for line in lines)
    told = json.loads((folder / "plan" / "plan.json").read_text(encoding="utf-8"))
    assert told["likely"]["days"] == 500
    plan = read_plan(folder / "plan" / "plan.json")
    assert finish_csv(plan.orders).splitlines() == [header, *lines]
    page = (folder / "plan" / "timeline.html").read_text(encoding="utf-8")
    assert likely_table(plan) in page


def test_the_report_names_the_least_likely_order_first() -> None:
    """The terminal shows the three finishes and the chance of each order; nothing where no days were simulated."""
    made = planned("team-shirts")
    said = foresee(made.day, made.plan, made.rows, days=100)
    doubtful = said.orders[2].model_copy(update={"on_time": 0.42})
    plan = said.model_copy(update={"orders": (*said.orders[:2], doubtful, *said.orders[3:])})
    lines = list(likely_lines(plan))
    assert lines[1].split()[0] == doubtful.order and lines[1].endswith("42 of 100")
    text = [line.text for line in report(made.day, plan, made.rows, 80)]
    assert "What is likely" in text and all(len(line) <= 80 for line in text)
    assert "What is likely" not in [line.text for line in report(made.day, made.plan, made.rows, 80)]
    assert likely_table(made.plan) == ""


def test_chances_are_not_rounded_to_certainty() -> None:
    """A chance below one is never told as all days, nor one above nothing as none."""
    assert [chance(share) for share in (None, 0.0, 0.002, 0.5, 0.997, 1.0)] == [
        "no due time",
        "0 of 100",
        "under 1 of 100",
        "50 of 100",
        "over 99 of 100",
        "100 of 100",
    ]


def test_names_that_a_page_would_take_for_markup_stay_text() -> None:
    """An order's name is escaped in the page's table."""
    made = planned("team-shirts")
    said = foresee(made.day, made.plan, made.rows, days=50)
    odd: Finish = said.orders[0].model_copy(update={"order": "<b>1</b>"})
    page = likely_table(said.model_copy(update={"orders": (odd,)}))
    assert "<b>1</b>" not in page and "&lt;b&gt;1&lt;/b&gt;" in page


def test_a_plan_too_large_to_be_played_comes_back_as_it_is() -> None:
    """Beyond 20 000 rows no likely finishes are stated; it says so, and nothing else is changed."""
    made = planned("team-shirts")
    said = foresee(made.day, made.plan, list(made.rows) * 12)
    assert "20000 rows" in said.warnings[-1]
    assert said.model_copy(update={"warnings": made.plan.warnings}) == made.plan
