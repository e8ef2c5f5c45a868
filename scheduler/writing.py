"""`pressday plan`: plan a folder, audit the answer, write it whole or not at all, say what came of it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import datetime
from pathlib import Path

from models.day import Day
from models.plan import Row
from models.problem import Faulted
from scheduler.audit import audit_rows
from scheduler.holding import held
from scheduler.likely import foresee
from scheduler.logbook.book import told_since
from scheduler.output.files import write_plan
from scheduler.output.layout import counted
from scheduler.output.page_whatif import what_if_text
from scheduler.output.swap import NOTHING
from scheduler.output.terminal import Progress, print_plan, say_text
from scheduler.planning import Planned, plan_folder
from scheduler.solving.efforts import EffortName


def plan_and_write(
    folder: Path, effort: EffortName, seconds: float | None, seed: int, as_json: bool, what_if: bool = False
) -> Planned:
    """Plan, audit and write. Raises BadInput, NoPlan, Faulted; nothing is written where anything is wrong.

    `what_if`: where orders are late, also what would help, planned for real.
    """
    with held(folder):
        with Progress(silent=as_json) as progress:
            planned = plan_folder(folder, effort, seconds, seed, tell=progress, tell_bound=progress.bound)
        refuse_broken(planned.day, planned.rows)
        planned = replace(planned, plan=foresee(planned.day, planned.plan, planned.rows))
        if what_if:
            planned = _with_what_if(folder, planned, effort, as_json)
        write(folder, planned)
    print_plan(planned.day, planned.plan, planned.rows, json=as_json)
    if not as_json:
        say_text(what_if_text(planned.plan))
    return planned


def _with_what_if(folder: Path, planned: Planned, effort: EffortName, silent: bool) -> Planned:
    from scheduler.comparing.commands import quiet, tell_outcome
    from scheduler.comparing.late import with_what_if

    return with_what_if(folder, planned, effort, quiet if silent else tell_outcome)


def write(folder: Path, planned: Planned, beside: Mapping[str, bytes] = NOTHING) -> None:
    """Draw the page and put the plan folder in its place, and with it what other files hold from then on."""
    from scheduler.output.timeline import timeline_page

    page = timeline_page(planned.day, planned.plan, planned.rows)
    write_plan(folder, planned.plan, planned.rows, page, beside)


def log_note(folder: Path, start: datetime) -> str:
    """What to say where log.csv tells of the day that was planned from its start; "" where it doesn't."""
    lines = told_since(folder, start)
    if not lines:
        return ""
    return (
        f"Note: log.csv has {counted(lines, 'line')} since {start:%Y-%m-%d %H:%M}, and this plan takes no notice of "
        f"them: it is of the whole day, with nothing done yet. To plan what is left: pressday restore {folder} brings "
        f"back the plan that was worked by, then pressday replan {folder}"
    )


def refuse_broken(day: Day, rows: list[Row]) -> None:
    """A plan that its own audit faults is never written: raises Faulted."""
    findings = audit_rows(day, rows)
    if findings:
        raise Faulted([f"{f.rule}: {f.where}: {f.message}" for f in findings])
