"""`pressday replan`: log what happened, plan the rest again, audit the answer, write both whole or not at all."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from pathlib import Path

from models.day import Day
from models.log import Entry
from models.plan import Row
from models.problem import BadInput, Faulted, Problem
from scheduler.audit import Continued, audit_rows
from scheduler.holding import held
from scheduler.likely import Known, foresee
from scheduler.logbook.book import with_lines
from scheduler.logbook.commands import Running, read_running
from scheduler.logbook.spans import spans_by_name, with_outs
from scheduler.output.swap import PLAN
from scheduler.output.terminal import Progress, print_plan
from scheduler.planning import Planned
from scheduler.replanning.replan import Old, replan_day
from scheduler.solving.efforts import EffortName
from scheduler.writing import write


def replan_and_write(
    folder: Path,
    at: datetime,
    lines: Sequence[Mapping[str, str]],
    effort: EffortName,
    seconds: float | None,
    seed: int,
    as_json: bool,
) -> Planned:
    """Add lines to log.csv (cells as a person would write them), plan again from `at` and write both.

    Raises BadInput, NoPlan, Faulted or Busy; nothing is written then, no line of the log either.
    """
    with held(folder):
        running = read_running(folder)
        entries, log = with_lines(folder, running.day, running.rows, lines, running.settled)
        refuse_moment(running, entries, at)
        old = old_of(folder, running)
        with Progress(silent=as_json) as progress:
            planned = replan_day(running.day, old, entries, at, effort, seconds, seed, tell=progress)
        planned = _read_with(proven(planned, running.day, running.rows, entries), log)
        write(folder, planned, {"log.csv": log} if lines else {})
    print_plan(planned.day, planned.plan, planned.rows, json=as_json)
    return planned


def old_of(folder: Path, running: Running) -> Old:
    """The folder's plan as something to plan again from."""
    sha256 = hashlib.sha256((folder / PLAN / "timetable.csv").read_bytes()).hexdigest()
    return Old(running.plan, running.rows, sha256)


def _read_with(planned: Planned, log: bytes) -> Planned:
    """The plan with the log it was made by among its inputs, the lines just added in it."""
    if not log:
        return planned
    inputs = planned.plan.inputs | {"log.csv": hashlib.sha256(log).hexdigest()}
    return replace(planned, plan=planned.plan.model_copy(update={"inputs": inputs}))


def known_of(day: Day, entries: Sequence[Entry], at: datetime) -> Known:
    """The day up to the moment, and who and what is out of work by the log."""
    return Known(day.seconds(at), spans_by_name(day, entries, "person"), spans_by_name(day, entries, "press"))


def proven(planned: Planned, day: Day, rows: Sequence[Row], entries: Sequence[Entry]) -> Planned:
    """A plan made again from one with these rows, as it is to be written: with what is likely, and who and what is
    out. Raises Faulted where it does not pass the audit as a continuation."""
    changes = planned.plan.changes
    assert changes is not None
    continued = Continued(changes.at, tuple(entries), tuple(rows), changes.logged)
    findings = audit_rows(day, planned.rows, continued)
    if findings:
        raise Faulted([f"{f.rule}: {f.where}: {f.message}" for f in findings])
    plan = foresee(planned.day, planned.plan, planned.rows, known=known_of(day, entries, changes.at))
    return replace(planned, plan=plan, day=with_outs(planned.day, entries))


def refuse_moment(running: Running, entries: Sequence[Entry], at: datetime) -> None:
    """A day goes on from a moment after which nothing has been logged or planned again yet."""
    problems = []
    start, settled = running.plan.start, running.settled.at
    told = f"{at:%Y-%m-%d %H:%M:%S}"
    if at < start:
        wrong = f"the plan begins {start:%Y-%m-%d %H:%M}"
        problems.append(Problem("", "", "--at", told, wrong, "Write a moment of the day, or use pressday plan"))
    if settled is not None and at < settled:
        wrong = f"the plan was made again at {settled:%Y-%m-%d %H:%M:%S}"
        right = "Write that moment or a later one, or bring back the plan before: pressday restore"
        problems.append(Problem("", "", "--at", told, wrong, right))
    later = [entry for entry in entries if entry.at > at]
    if later:
        last = max(later, key=lambda entry: entry.at)
        wrong = f"log.csv tells of {last.what} at {last.at:%Y-%m-%d %H:%M:%S}, later than that"
        problems.append(Problem("", "", "--at", told, wrong, "Write that moment or a later one"))
    if problems:
        raise BadInput(problems)
