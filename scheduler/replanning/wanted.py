"""The day under its log: rushed orders with their new due times and priorities, cancelled ones without."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime

from models.day import Day
from models.order import OrderLine
from scheduler.logbook import State


def day_under_log(day: Day, state: State) -> Day:
    """The day as it is wanted now. A cancelled line keeps its place, as its pieces may have been worked on."""
    return replace(day, lines=tuple(_line(line, state) for line in day.lines))


def _line(line: OrderLine, state: State) -> OrderLine:
    if line.key in state.cancelled:
        return line.model_copy(update={"due": None, "priority": 1.0})
    changed: dict[str, datetime | float] = {}
    if line.key in state.due:
        changed["due"] = state.due[line.key]
    if line.key in state.priority:
        changed["priority"] = state.priority[line.key]
    return line.model_copy(update=changed) if changed else line
