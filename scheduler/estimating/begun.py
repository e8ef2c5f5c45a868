"""A day that has begun, taken up at a moment: what stands, and what is left of its plan carried on as it was."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from models.log import Entry
from models.problem import NoPlan
from scheduler.breakdown import break_down, check_fits
from scheduler.logbook.book import read_log
from scheduler.logbook.commands import Running, read_running
from scheduler.replanning.before import Before, Item
from scheduler.replanning.commands import old_of, refuse_moment
from scheduler.replanning.replan import Old
from scheduler.replanning.search import refuse_unfit
from scheduler.replanning.standing import Carried, carry
from scheduler.timetable.dispatch import dispatch
from scheduler.timetable.manner import MANNERS
from scheduler.timetable.measure import measure
from scheduler.timetable.record import Timetable
from scheduler.timetable.shortage import shortages


@dataclass(frozen=True)
class Begun:
    """A day taken up at a moment: its plan and log, what stands, and the rest of the plan as a timetable and as places
    of its pieces."""

    running: Running
    entries: tuple[Entry, ...]
    old: Old
    carried: Carried
    items: tuple[Item, ...]
    table: Timetable

    @property
    def at(self) -> datetime:
        """The moment."""
        return self.carried.state.at


def read_begun(folder: Path, at: datetime) -> Begun:
    """Take the folder's plan up at a moment. Raises BadInput, or NoPlan where what is left finds no place."""
    running = read_running(folder)
    entries = read_log(folder, running.day, running.rows, running.settled)
    refuse_moment(running, entries, at)
    routes = check_fits(running.day, break_down(running.day))
    carried = carry(running.day, routes, running.rows, entries, at, running.settled)
    refuse_unfit(carried.instance)
    before = Before(carried)
    table = _carried_on(carried, before)
    if table.unplaced or table.broken:
        raise NoPlan(shortages(carried.instance, table))
    return Begun(running, entries, old_of(folder, running), carried, tuple(before.items), table)


def _carried_on(carried: Carried, before: Before) -> Timetable:
    """The rest as it was planned, to the second where nothing bears on it."""
    standing = carried.instance.standing
    if carried.rest is not None and standing is not None and not before.homeless:
        rest = Timetable(
            carried.rest.loadings, carried.rest.changes, worked=standing.loadings, changed=standing.changes
        )
        return measure(carried.instance, rest)
    programme = before.programme()
    return min((dispatch(carried.instance, programme, manner) for manner in MANNERS), key=lambda table: table.value)
