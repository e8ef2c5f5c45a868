"""The whole search: repeatable, and never worse for having gone on."""

from __future__ import annotations

import threading
from typing import Any

import pytest

from scheduler.audit import audit_rows
from scheduler.breakdown import break_down, check_fits
from scheduler.intake import read_day
from scheduler.planning import Planned, plan_day, plan_folder
from scheduler.solving.allotment import Allotment, allotments
from scheduler.solving.corrected import corrected
from scheduler.solving.efforts import EFFORTS
from scheduler.solving.solve import solve
from scheduler.timetable.record import Timetable
from scheduler.timetable.rows import rows_of
from tests.scenarios.folders import NAMES, SCENARIOS
from tests.scheduler.breakdown.days import film, strip
from tests.scheduler.days import PRESS, day, faults, random_day

LONG = pytest.mark.thorough
Value = tuple[float, float, float]


def staged(seed: int, effort: str) -> tuple[list[tuple[str, Value]], Timetable]:
    """The stages a drawn day's search told of, with their values, and what it ended with."""
    made, told = random_day(seed), []
    routes = check_fits(made, break_down(made))
    solution = solve(made, routes, EFFORTS[effort], tell=lambda stage, table: told.append((stage, table.value)))  # type: ignore[index]
    assert not faults(solution.instance, solution.table)
    return told, solution.table


@pytest.mark.parametrize("seed", [1, 6, *(pytest.param(seed, marks=LONG) for seed in (12, 20))])
def test_the_answer_is_never_worse_than_the_seed(seed: int) -> None:
    """Each stage told of is better than the one before; the last is the answer."""
    told, table = staged(seed, "normal")
    assert told[0][0] == "seed"
    values = [value for _, value in told]
    assert values == sorted(values, reverse=True) and len(set(values)) == len(values)
    assert table.value == values[-1]


@pytest.mark.parametrize("seed", [7, 21, pytest.param(2, marks=LONG)])
def test_more_effort_never_gives_a_worse_plan(seed: int) -> None:
    """Quick, normal, thorough: late time first, then work."""
    values = [staged(seed, effort)[1].value for effort in ("quick", "normal")]
    assert values[1] <= values[0]


def figures(planned: Planned) -> tuple[object, ...]:
    """All that a run gives."""
    return planned.plan, planned.rows


def test_a_short_clock_gives_the_bound_as_well() -> None:
    """What no plan can beat is told however soon the search has to end."""
    made = random_day(6)
    routes = check_fits(made, break_down(made))
    bounds = [solve(made, routes, EFFORTS["quick"], seconds=seconds).bounds for seconds in (None, 0.05)]
    assert bounds[0][1] > 0 and bounds[1] == pytest.approx(bounds[0])


@pytest.mark.parametrize("name", ["two-presses", *(pytest.param(n, marks=LONG) for n in NAMES if n != "two-presses")])
def test_the_same_seed_and_effort_give_the_same_plan(name: str) -> None:
    """Two runs on one machine are equal row by row."""
    first, second = (plan_folder(SCENARIOS / name, effort="quick", seed=4) for _ in range(2))
    assert figures(first) == figures(second)


@pytest.mark.parametrize("seed", [3, 9])
def test_the_same_seed_and_normal_effort_give_the_same_plan(seed: int) -> None:
    """Also where CP-SAT takes part: its effort is counted in deterministic time."""
    first, second = (plan_day(random_day(seed), "normal", seed=2) for _ in range(2))
    assert figures(first) == figures(second)


def test_the_ordered_problem_is_solved_beside_the_first_search(monkeypatch: pytest.MonkeyPatch) -> None:
    """Here it is not begun before that search is over; what comes of it is the plan that comes of it at once."""
    made, over = read_day(SCENARIOS / "two-presses"), threading.Event()
    routes = check_fits(made, break_down(made))
    at_once = solve(made, routes, EFFORTS["quick"])

    def searched(*args: Any) -> None:
        corrected(*args)
        over.set()

    def awaited(*args: Any) -> list[Allotment]:
        assert over.wait(60)
        return allotments(*args)

    monkeypatch.setattr("scheduler.solving.solve.corrected", searched)
    monkeypatch.setattr("scheduler.solving.solve.allotments", awaited)
    late = solve(made, routes, EFFORTS["quick"])
    assert over.is_set() and late.bounds == at_once.bounds
    assert rows_of(late.instance, late.table) == rows_of(at_once.instance, at_once.table)


def test_a_wall_clock_still_gives_a_plan() -> None:
    """A very short time is enough for the seed; every piece has its time."""
    planned = plan_day(random_day(9), "thorough", seconds=0.1)
    pieces = {piece for row in planned.rows for piece in row.pieces}
    assert pieces == {piece for line in planned.day.lines for piece in line.pieces}


def test_nothing_goes_to_a_press_that_nobody_ever_serves() -> None:
    """A press whose only person is never there takes nothing while another press can: the day has a plan."""
    ada = {"id": "ada", "presses": ["two"], "open": "08:00", "close": "08:03"}
    cleo = {"id": "cleo", "presses": ["one"]}
    presses = [{**PRESS, "id": name} for name in ("two", "one")]
    made = day(
        [film("navy")],
        {"plain": {"front": [strip("navy", 0)]}},
        [("plain", 1)],
        presses=presses,
        people=[ada, cleo],
        hours={"breaks": [["08:00", "08:08"]]},
    )
    rows = plan_day(made, "quick").rows
    assert {row.press for row in rows if row.press} == {"one"}
    assert audit_rows(made, rows) == []
