"""`pressday log` and `pressday status`: the folder's plan and log read, a line added, the state told."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from models.day import Day
from models.plan import Plan, Row
from scheduler.intake import read_day
from scheduler.logbook.book import append_cells, read_log
from scheduler.logbook.history import Settled, settled_by
from scheduler.logbook.state import state_at
from scheduler.logbook.words import status_json, status_text
from scheduler.output.files import read_plan, read_timetable, recover
from scheduler.output.swap import PLAN


@dataclass(frozen=True)
class Running:
    """A day with the plan that is being worked."""

    day: Day
    rows: list[Row]
    plan: Plan

    @property
    def settled(self) -> Settled:
        """What a plan that was made again knows of the time before."""
        return settled_by(self.plan)


def read_running(folder: Path) -> Running:
    """The folder's day and its plan's rows; the day starts where the plan does. Raises BadInput."""
    if not folder.is_dir():
        read_day(folder)  # says what is wrong with it
    recover(folder)
    plan = read_plan(folder / PLAN / "plan.json")
    return Running(read_day(folder, plan.start), read_timetable(folder / PLAN / "timetable.csv"), plan)


def add_line(folder: Path, cells: Mapping[str, str]) -> str:
    """Add a line to log.csv and say what now stands in it. Raises BadInput or Busy; then nothing is written."""
    running = read_running(folder)
    append_cells(folder, running.day, running.rows, cells, running.settled)
    last = read_log(folder, running.day, running.rows, running.settled)[-1]
    named = (last.press, last.person, last.order, last.line and f"line {last.line}", ", ".join(last.pieces))
    until = f" until {last.until:%Y-%m-%d %H:%M:%S}" if last.until else ""
    told = " ".join(part for part in named if part)
    return f"log.csv: {last.at:%Y-%m-%d %H:%M:%S} {last.what} {told}{until}{f' ({last.note})' if last.note else ''}"


def tell_status(folder: Path, at: datetime, as_json: bool) -> str | dict[str, Any]:
    """Where things stand, in words or as plain data. Raises BadInput."""
    running = read_running(folder)
    log = read_log(folder, running.day, running.rows, running.settled)
    state = state_at(running.day, running.rows, log, at, running.settled)
    return status_json(running.day, state) if as_json else status_text(running.day, state)
