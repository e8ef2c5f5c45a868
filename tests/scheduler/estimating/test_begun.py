"""Estimates on a day that has begun: beside what is left of it, from the moment on."""

from __future__ import annotations

import json
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from typer.testing import CliRunner

from models.problem import BadInput
from scheduler.cli import app
from scheduler.estimating.goals import limits_of
from scheduler.estimating.today import read_today
from scheduler.output.files import read_plan, read_timetable
from tests.scheduler.replanning.folders import everything, folder_in, middle

ASK = ("--garment", "market-tee", "--design", "stall-chest", "--quantity", "3")
HOUR = timedelta(hours=1)


def run(*words: str | Path) -> tuple[int, str, str]:
    """Exit code, standard output and standard error of a command."""
    done = CliRunner().invoke(app, [str(word) for word in words])
    return done.exit_code, done.stdout, done.stderr


def asked(folder: Path, *words: str | Path) -> dict[str, Any]:
    """The answer of an estimate that succeeds."""
    code, out, err = run("estimate", folder, *ASK, *words, "--json")
    assert code == 0, err
    answer: dict[str, Any] = json.loads(out)
    return answer


def test_an_untouched_rest_is_the_plan_itself(tmp_path: Path) -> None:
    """Taken up at any moment with nothing in the log, every order is done when the plan says, to the second."""
    folder = folder_in(tmp_path)
    plan = read_plan(folder / "plan" / "plan.json")
    for share in (0.0, 0.2, 0.5, 0.9):
        at = (plan.start + share * (plan.finish - plan.start)).replace(microsecond=0)
        today = read_today(folder, at=at)
        assert {order: today.day.at(done) for order, done in today.finishes.items()} == {
            one.order: one.finish for one in plan.orders
        }
        assert today.changes == plan.goals.changes


def test_nothing_is_planned_before_the_moment(tmp_path: Path) -> None:
    """A day whose press went down is answered from --at on, the file folder is left alone, and the promise is told."""
    folder = folder_in(tmp_path)
    at = middle(folder)
    assert run("log", folder, "down", "--press", "wall", "--at", at.isoformat())[0] == 0
    before = everything(folder)
    answer = asked(folder, "--at", (at + timedelta(minutes=1)).isoformat())
    assert f"what is left at {at + timedelta(minutes=1):%H:%M}" in answer["beside"]
    assert datetime.fromisoformat(answer["finish"]) > at
    assert "wall" not in answer["press_min"]
    assert datetime.fromisoformat(answer["blanks_by"]) >= at
    assert everything(folder) == before


def test_what_is_accepted_goes_on_from_what_was_worked(tmp_path: Path) -> None:
    """--accept on a day that has begun: rows before the moment stay to the second, the audit of the continuation finds
    nothing, no promised order is later than its promise or its finish before, and the new one is done as said."""
    folder = folder_in(tmp_path)
    at = middle(folder)
    assert run("log", folder, "absent", "--person", "tomas", "--at", at.isoformat())[0] == 0
    today = read_today(folder, at=at)
    limits = {order: today.day.at(limit) for order, limit in limits_of(today).items()}
    old = {row for row in read_timetable(folder / "plan" / "timetable.csv") if row.end <= at}
    answer = asked(folder, "--at", at.isoformat(), "--accept", "--order", "1005", "--effort", "quick")
    plan = read_plan(folder / "plan" / "plan.json")
    assert old and old <= set(read_timetable(folder / "plan" / "timetable.csv"))
    assert run("audit", folder)[0] == 0
    assert plan.changes is not None and plan.changes.at == at
    assert [one.was for one in plan.changes.orders if one.order == "1005"] == [None]
    finish = {one.order: one.finish for one in plan.orders}
    assert at < finish["1005"] <= datetime.fromisoformat(answer["finish"])
    assert limits and all(finish[order] <= limit for order, limit in limits.items())


def test_a_second_order_is_asked_for_on_a_day_planned_again(tmp_path: Path) -> None:
    """A day planned again is taken up as well, from then or later; a moment before that is refused."""
    folder = folder_in(tmp_path)
    at = middle(folder)
    assert run("replan", folder, "--at", at.isoformat(), "--down", "wall", "--effort", "quick")[0] == 0
    answer = asked(folder, "--at", at.isoformat())
    assert datetime.fromisoformat(answer["finish"]) > at and list(answer["press_min"]) == ["window"]
    code, _, err = run("estimate", folder, *ASK, "--at", (at - HOUR / 60).isoformat())
    assert code == 1 and "--at" in err and "made again at" in err


def test_without_a_moment_a_begun_day_asks_for_one(tmp_path: Path) -> None:
    """A log of a day that is not today: the clock's moment does not suit it, and the problem names --at."""
    folder = folder_in(tmp_path)
    assert run("log", folder, "absent", "--person", "tomas", "--at", middle(folder).isoformat())[0] == 0
    before = everything(folder)
    now = datetime(2026, 11, 30, 9)
    with pytest.raises(BadInput, match="--at"):
        read_today(folder, now)
    assert everything(folder) == before


def test_what_no_press_takes_any_more_is_refused(tmp_path: Path) -> None:
    """With every press down for good there is no plan, and the reason names the orders that wait."""
    folder = folder_in(tmp_path)
    at = middle(folder)
    plan = read_plan(folder / "plan" / "plan.json")
    for press in plan.presses:
        assert run("log", folder, "down", "--press", press.id, "--at", at.isoformat())[0] == 0
    code, _, err = run("estimate", folder, *ASK, "--at", at.isoformat())
    assert code == 3 and "no press that is at work any more" in err
