"""The rest of a day planned again from a moment: the whole road in one call; nothing is written."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from models.day import Day
from models.log import Entry
from models.plan import Plan, Row
from scheduler import __version__
from scheduler.breakdown import break_down, check_fits
from scheduler.logbook.history import Settled, settled_by
from scheduler.logbook.spans import in_time
from scheduler.planning import Planned, late_words
from scheduler.replanning.changes import changes_of
from scheduler.replanning.search import solve_rest
from scheduler.replanning.standing import Carried, carry
from scheduler.solving.efforts import EFFORTS, EffortName
from scheduler.solving.incumbent import Progress
from scheduler.timetable.rows import rows_of
from scheduler.timetable.summary import plan_of


@dataclass(frozen=True)
class Old:
    """The plan that is planned again, with its rows and the sha256 of its timetable.csv."""

    plan: Plan
    rows: Sequence[Row]
    sha256: str

    @property
    def settled(self) -> Settled:
        """What it knows of the time before it was made."""
        return settled_by(self.plan)


def replan_day(
    day: Day,
    old: Old,
    log: Sequence[Entry],
    at: datetime,
    effort: EffortName = "normal",
    seconds: float | None = None,
    seed: int = 0,
    tell: Progress = lambda stage, table: None,
) -> Planned:
    """Plan again from `at` (local, naive). The day that comes back is the one under its log: rushed orders with their
    new due times. Raises BadInput, or NoPlan with reasons in the shop's words.
    """
    routes = check_fits(day, break_down(day))
    carried = carry(day, routes, old.rows, log, at, old.settled)
    rest = solve_rest(carried, routes, EFFORTS[effort], seed, seconds, tell)
    if rest.as_planned and carried.rest:
        bare = replace(rest.table, loadings=[], changes=[])
        rows = rows_of(carried.instance, bare, [*carried.rows, *carried.rest.rows])
    else:
        rows = rows_of(carried.instance, rest.table, carried.rows)
    warnings = list(dict.fromkeys(warning for ways in routes.values() for warning in ways[0].warnings))
    late = late_words(carried.instance, rest.table)
    plan = plan_of(carried.instance, rest.table, rest.bounds, seed, effort, __version__, [*late, *warnings])
    return with_changes(carried, old, log, plan, rows)


def with_changes(carried: Carried, old: Old, log: Sequence[Entry], plan: Plan, rows: list[Row]) -> Planned:
    """A plan of what a day had left, with what it changes."""
    at, settled = carried.state.at, old.settled
    since = [e for e in in_time(log) if e.at <= at and (settled.at is None or e.at > settled.at)]
    changes = changes_of(carried, old.plan, old.rows, old.sha256, since, plan.orders, rows)
    return Planned(carried.day, plan.model_copy(update={"changes": changes}), rows)
