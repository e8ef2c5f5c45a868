"""`pressday sheets`: a written plan as sheets for paper and tablet."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from models.day import Day
from models.plan import Plan, Row
from models.problem import BadInput, Problem
from scheduler.breakdown import break_down
from scheduler.intake import read_day
from scheduler.logbook.book import read_log
from scheduler.logbook.spans import with_outs
from scheduler.output.files import read_plan, read_timetable, recover
from scheduler.output.sheets import INDEX, Paper, sheets
from scheduler.output.sheets_facts import Work, plan_mark
from scheduler.output.sheets_files import SHEETS, write_sheets

_AFTER = "plan again, or do not trust these sheets."
_AFTER_LOG = "where it tells of more than work done as planned, plan the rest again with pressday replan."


@dataclass(frozen=True)
class Sheets:
    """Where the sheets were written, their file names, and what to be warned of."""

    folder: Path
    files: tuple[str, ...]
    warnings: tuple[str, ...]


def write_folder_sheets(folder: Path, paper: Paper = "a4") -> Sheets:
    """Read the folder's plan and write sheets/ beside it.

    Raises BadInput where there is no plan or it or the folder cannot be read, Busy where another run is at work.
    """
    if not folder.is_dir():
        read_day(folder)  # says what is wrong with it
    recover(folder)
    plan = read_plan(folder / "plan" / "plan.json")
    rows = read_timetable(folder / "plan" / "timetable.csv")
    _check(rows)
    day = read_day(folder, plan.start)
    warnings = changed(day, plan)
    pages = sheets(Work(_under_log(folder, day, plan, rows), plan, rows, break_down(day), warnings), paper)
    return Sheets(write_sheets(folder, pages), tuple(pages), warnings)


def _under_log(folder: Path, day: Day, plan: Plan, rows: Sequence[Row]) -> Day:
    """The day with what was down or absent by the plan's log; as the folder has it where no log went into the plan."""
    if plan.changes is None:
        return day
    at = plan.changes.at
    return with_outs(day, [entry for entry in read_log(folder, day, rows, at) if entry.at <= at])


def sheets_note(folder: Path) -> str:
    """What to say where sheets/ is of another plan than the one that is written; nothing where it is not there."""
    found = _index(folder)
    mark = re.search(r'<html[^>]* data-plan="(\w+)"', found)
    if not found or (mark and mark[1] == plan_mark(read_plan(folder / "plan" / "plan.json"))):
        return ""
    return f"sheets/ is still of another plan: take what hangs down, then pressday sheets {folder}"


def paper_there(folder: Path) -> Paper:
    """The paper of the sheets that are there; A4 where there are none."""
    return "letter" if re.search(r"@page \{ size: letter", _index(folder)) else "a4"


def _index(folder: Path) -> str:
    try:
        return (folder / SHEETS / INDEX).read_text(encoding="utf-8")
    except (OSError, UnicodeDecodeError):
        return ""


def _check(rows: Sequence[Row]) -> None:
    """A loading that was never dressed on a press has no line to stand in; raises BadInput with all of them."""
    loads = [row for row in rows if row.what == "load"]
    dressed = {row.loading for row in loads if None not in (row.press, row.temperature, row.operation)}
    lost = sorted({row.loading for row in rows if row.what != "change" and row.loading is not None} - dressed)
    if lost:
        wrong, right = (
            "no row says on which press, at which setting and for which operation it is loaded",
            "Plan again: pressday plan DIR",
        )
        raise BadInput([Problem("timetable.csv", f"loading {number}", "", "", wrong, right) for number in lost])


def changed(day: Day, plan: Plan) -> tuple[str, ...]:
    """A warning for each input that is not as it was when the plan was made."""
    names = sorted({*plan.inputs, *day.inputs})
    return tuple(
        f"{name} {_what(name, day, plan)} since this plan was made: {_AFTER_LOG if name == 'log.csv' else _AFTER}"
        for name in names
        if plan.inputs.get(name) != day.inputs.get(name)
    )


def _what(name: str, day: Day, plan: Plan) -> str:
    if name not in day.inputs:
        return "has been taken away"
    return "has changed" if name in plan.inputs else "has come"
