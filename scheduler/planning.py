"""The whole road for one folder: read, break down, solve, time, sum up."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path

from models.day import Day
from models.plan import Plan, Row
from models.problem import NoPlan
from scheduler import __version__
from scheduler.audit import audit_rows
from scheduler.breakdown import break_down, check_fits
from scheduler.instance import Instance
from scheduler.intake import read_day
from scheduler.solving.efforts import EFFORTS, EffortName
from scheduler.solving.incumbent import Progress
from scheduler.solving.least import hopeless, least_operations
from scheduler.solving.solve import Solution, TellBound, solve
from scheduler.timetable.record import Timetable
from scheduler.timetable.rows import rows_of
from scheduler.timetable.shortage import shortages
from scheduler.timetable.summary import plan_of


@dataclass(frozen=True)
class Planned:
    """A day, its plan and the plan's rows."""

    day: Day
    plan: Plan
    rows: list[Row]


def plan_folder(
    folder: Path,
    effort: EffortName = "normal",
    seconds: float | None = None,
    seed: int = 0,
    now: datetime | None = None,
    tell: Progress = lambda stage, table: None,
    tell_bound: TellBound = lambda late, work: None,
) -> Planned:
    """Plan a day folder; nothing is written. Raises BadInput, or NoPlan with reasons in the shop's words."""
    return plan_day(read_day(folder, now), effort, seconds, seed, tell, tell_bound)


def plan_day(
    day: Day,
    effort: EffortName = "normal",
    seconds: float | None = None,
    seed: int = 0,
    tell: Progress = lambda stage, table: None,
    tell_bound: TellBound = lambda late, work: None,
) -> Planned:
    """Plan a day. Raises BadInput, or NoPlan with reasons in the shop's words."""
    routes = check_fits(day, break_down(day))
    warnings = list(dict.fromkeys(warning for ways in routes.values() for warning in ways[0].warnings))
    solution = solve(day, routes, EFFORTS[effort], seed, seconds, tell, tell_bound)
    if solution.table.unplaced or solution.table.broken:
        proven = hopeless(solution.instance, least_operations(day, routes))
        raise NoPlan(shortages(solution.instance, solution.table, proven))
    solution, rows = _sound(solution)
    return Planned(day, _plan(solution, seed, effort, warnings), rows)


def _sound(solution: Solution) -> tuple[Solution, list[Row]]:
    """The solution and its rows; where the auditor faults what was put right to the second, as it was dispatched."""
    rows = rows_of(solution.instance, solution.table)
    if solution.table is not solution.played and audit_rows(solution.instance.day, rows):
        solution = replace(solution, table=solution.played)
        rows = rows_of(solution.instance, solution.table)
    return solution, rows


def _plan(solution: Solution, seed: int, effort: str, warnings: list[str]) -> Plan:
    instance = solution.instance
    late = late_words(instance, solution.table)
    return plan_of(instance, solution.table, solution.bounds, seed, effort, __version__, [*late, *warnings])


def late_words(instance: Instance, table: Timetable) -> list[str]:
    """A sentence for each order that is late."""
    return [
        f"order {order} is late: done {day_time(instance.day.at(done))}, due {day_time(instance.day.at(due))}"
        for order, done, due in zip(instance.order_ids, table.order_finish, instance.due, strict=True)
        if due is not None and done > due
    ]


def day_time(at: datetime) -> str:
    """A moment as people read it: date and time of day, a begun minute counted whole."""
    return f"{at + timedelta(seconds=-at.second % 60):%Y-%m-%d %H:%M}"
