"""An estimate: what was asked, and when and at what cost it could be done."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from models.day import Day
from models.order import OrderLine
from models.plan import Row
from models.problem import NoPlan
from scheduler.breakdown import break_down, check_fits
from scheduler.estimating.blanks import latest_ready
from scheduler.estimating.goals import ABOUT, Goal
from scheduler.estimating.need import Need, need_of
from scheduler.estimating.placing import Asked, Placed, place
from scheduler.estimating.today import Today, read_today
from scheduler.instance import Instance
from scheduler.replanning.routes import chain_left
from scheduler.replanning.search import refuse_unfit
from scheduler.solving.chains import default_chains
from scheduler.timetable.measure import measure
from scheduler.timetable.record import Timetable
from scheduler.timetable.rows import rows_of
from scheduler.timetable.shortage import shortages
from scheduler.timetable.summary import minutes


@dataclass(frozen=True)
class Moved:
    """An order that was there before: when it is done today and with the new lines; late in minutes, None undated."""

    order: str
    customer: str
    due: datetime | None
    today: datetime
    then: datetime
    late_today_min: float | None
    late_min: float | None


@dataclass(frozen=True)
class Estimate:
    """When the lines could be done. Times local, minutes to a hundredth.

    `finish`: the earliest found that leaves every promise as it is (`kept`; else the least harm found). `others`: who
    would be done later then. `first_finish` and `first_others`: the same with the new lines before all else.
    `blanks_by`: how late the blanks may come to be done by `blanks_for`, None where that cannot be.
    """

    lines: tuple[OrderLine, ...]
    today: str
    finish: datetime
    kept: bool
    late_min: float | None
    others: tuple[Moved, ...]
    first_finish: datetime
    first_others: tuple[Moved, ...]
    need: Need
    changes: int
    changes_today: int
    blanks_for: datetime
    blanks_by: datetime | None


@dataclass(frozen=True)
class Estimated:
    """An estimate with the whole plan it speaks of."""

    today: Today
    asked: Asked
    answer: Estimate
    instance: Instance
    table: Timetable
    rows: list[Row]


Asking = Callable[[Day], tuple[OrderLine, ...]]  # what is asked of a day


def estimate_folder(folder: Path, asking: Asking, now: datetime | None = None, at: datetime | None = None) -> Estimated:
    """Estimate what is asked of a folder's day, from its start or from `at`; nothing is written. Raises BadInput or
    NoPlan."""
    today = read_today(folder, now, at)
    return estimate(today, asking(today.day))


def estimate(today: Today, more: Sequence[OrderLine]) -> Estimated:
    """Answer for these lines beside today's. Raises BadInput or NoPlan where they cannot be pressed at all."""
    asked = ask(today, more)
    first = place(asked, Goal("first"), rounds=2, played=1, moves=0)
    first = place(asked, Goal("first by", first.done + ABOUT), rounds=0, start=first)
    kept = first if first.kept else place(asked, Goal("kept"), start=first)
    instance = today.instance((*today.day.lines, *asked.more), asked.chains)
    table = measure(instance, kept.table)
    if table.unplaced or table.broken:
        raise NoPlan(shortages(instance, table))
    rows = rows_of(instance, table, today.begun.carried.rows if today.begun else ())
    return Estimated(today, asked, _answer(asked, kept, first, table, rows), instance, table, rows)


def ask(today: Today, more: Sequence[OrderLine]) -> Asked:
    """The lines with the way each goes over the presses."""
    day = replace(today.day, lines=(*today.day.lines, *more))
    routes = check_fits(day, break_down(day))
    chains = default_chains(day, routes)[len(today.day.lines) :]
    if today.begun is None:
        return Asked(today, tuple(more), tuple(chains))
    at_work = frozenset(side.id for side in today.begun.carried.instance.presses if side.windows)
    left = [
        chain_left(day, routes[line.garment, line.design], chain, {}, at_work)
        for line, chain in zip(more, chains, strict=True)
    ]
    refuse_unfit(today.instance(day.lines, left))
    return Asked(today, tuple(more), tuple(left))


def _answer(asked: Asked, kept: Placed, first: Placed, table: Timetable, rows: Sequence[Row]) -> Estimate:
    day, due = asked.today.day, _due(asked)
    wanted = kept.done if due is None else due
    blanks = latest_ready(asked, wanted, kept)
    return Estimate(
        lines=asked.more,
        today=asked.today.source,
        finish=day.at(kept.done),
        kept=kept.kept,
        late_min=None if due is None else minutes(max(0, kept.done - due)),
        others=_moved(asked, kept),
        first_finish=day.at(first.done),
        first_others=_moved(asked, first),
        need=need_of(day, asked.more, rows),
        changes=table.change_count,
        changes_today=asked.today.changes,
        blanks_for=day.at(wanted),
        blanks_by=None if blanks is None else day.at(blanks),
    )


def _due(asked: Asked) -> int | None:
    """The earliest due time of what is asked, seconds."""
    return min((asked.today.day.seconds(line.due) for line in asked.more if line.due is not None), default=None)


def _moved(asked: Asked, placed: Placed) -> tuple[Moved, ...]:
    """Today's orders that are done later than today by a minute or more, those that get later than promised first."""
    today = asked.today
    found = []
    for order, what in today.day.orders.items():
        before, after = today.finishes[order], placed.finish[order]
        if after - before >= 60 or _late(what.due, today, after) > _late(what.due, today, before):
            found.append(
                Moved(
                    order,
                    what.customer,
                    what.due,
                    today.day.at(before),
                    today.day.at(after),
                    None if what.due is None else minutes(_late(what.due, today, before)),
                    None if what.due is None else minutes(_late(what.due, today, after)),
                )
            )
    return tuple(sorted(found, key=lambda m: ((m.late_today_min or 0) - (m.late_min or 0), m.order)))


def _late(due: datetime | None, today: Today, finish: int) -> int:
    return 0 if due is None else max(0, finish - today.day.seconds(due))
