"""The day as it stands before anything is added: its plan on disk where that still holds, else a light one."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from models.day import Day
from models.operation import Route
from models.order import OrderLine
from models.plan import Plan, Row
from models.problem import BadInput, NoPlan
from scheduler.breakdown import break_down, check_fits
from scheduler.estimating.begun import Begun, read_begun
from scheduler.instance import Chain, Instance, Lot, Routes
from scheduler.intake import read_day
from scheduler.logbook.book import told_since
from scheduler.output.files import read_plan, read_timetable, recover
from scheduler.output.swap import PLAN
from scheduler.solving.efforts import Effort
from scheduler.solving.solve import solve
from scheduler.timetable.rows import rows_of
from scheduler.timetable.shortage import shortages

ON_DISK = "the plan in plan/"
MADE_NOW = "a light plan made for this, as there is none in plan/"
OUTDATED = "a light plan made for this, as plan/ is of other inputs than the folder's"

_LIGHT = Effort(jobs=50, moves=8, starts=1, bound=0.02)


@dataclass(frozen=True)
class Laid:
    """One loading of the plan: which line (lot, on a day that has begun) and stage (from 0 in its chain), on which
    press, when (seconds) and how many pieces."""

    line: int
    stage: int
    press: int
    start: int
    pieces: int


@dataclass(frozen=True)
class Today:
    """A day, how its lines go, what is planned of them, when each order is done (seconds), how often settings change
    after warm-ups, and whose plan that is. `begun`: the day is taken up at a moment, and its lines are lots."""

    day: Day
    chains: tuple[Chain, ...]
    laid: tuple[Laid, ...]
    finishes: Mapping[str, int]
    changes: int
    source: str
    begun: Begun | None = None

    @property
    def begins(self) -> int:
        """The second from which can be planned."""
        return self.begun.carried.instance.begins if self.begun else 0

    @property
    def count(self) -> int:
        """Lines, or lots, that an instance of it has before any new line."""
        return len(self.chains)

    def instance(self, lines: Sequence[OrderLine], chains: Sequence[Chain]) -> Instance:
        """An instance of it. `lines`: the day's, their due times and priorities as one likes, and then new ones;
        `chains`: those of the new ones."""
        day = replace(self.day, lines=tuple(lines))
        if self.begun is None:
            return Instance(day, (*self.chains, *chains))
        base, wanted = self.begun.carried.instance, {line.key: line for line in lines}
        lots = [replace(lot, line=wanted[lot.line.key]) for lot in base.lots]
        for line in lines[len(self.day.lines) :]:
            ready = max(base.begins, day.seconds(line.ready) if line.ready else 0)
            lots.append(Lot(line, tuple((ready, number) for number in range(1, line.quantity + 1))))
        return Instance(day, (*self.chains, *chains), lots, base.standing)


def read_today(folder: Path, now: datetime | None = None, at: datetime | None = None) -> Today:
    """The folder's day and its plan, which is only read. Raises BadInput or NoPlan.

    The day is taken up at `at`, or now, where that is given, its log or a plan made again says that it has begun, or
    it began of itself (a day without a start of its own begins when the shop opens).
    """
    if folder.is_dir():
        recover(folder)
    day = read_day(folder, now)
    plan = _plan_in(folder)
    if at is not None or (plan is not None and _has_begun(folder, day, plan, now)):
        return today_begun(read_begun(folder, at or (now or datetime.now()).replace(microsecond=0)))
    routes = check_fits(day, break_down(day))
    found = None if plan is None else _on_disk(folder, day, routes, plan, now)
    if found is not None:
        return found
    return _fresh(day, routes, OUTDATED if (folder / PLAN / "plan.json").is_file() else MADE_NOW)


def _plan_in(folder: Path) -> Plan | None:
    """The plan in plan/, None where there is none or it is damaged."""
    try:
        return read_plan(folder / PLAN / "plan.json")
    except BadInput:
        return None


def _has_begun(folder: Path, day: Day, plan: Plan, now: datetime | None) -> bool:
    if day.shop.start is None and plan.start < (now or datetime.now()) <= plan.finish:
        return True
    whole_day = day.shop.start is None or day.shop.start == plan.start
    return whole_day and (plan.changes is not None or told_since(folder, plan.start) > 0)


def today_begun(begun: Begun) -> Today:
    """What is left of a plan from a moment on, as a day that new lines can be looked for a place in."""
    instance, table = begun.carried.instance, begun.table
    laid = [
        Laid(task.line, task.stage, item.press, item.key, item.pieces)
        for item in begun.items
        for task in [instance.tasks[item.task]]
    ]
    finishes = dict(zip(instance.order_ids, table.order_finish, strict=True))
    source = f"what is left at {begun.at:%H:%M} of the plan in plan/"
    return Today(begun.carried.day, instance.chains, tuple(laid), finishes, table.change_count, source, begun)


def _on_disk(folder: Path, day: Day, routes: Routes, plan: Plan, now: datetime | None) -> Today | None:
    """The day by the plan in plan/, None where that is damaged, outdated or no longer ahead."""
    try:
        rows = read_timetable(folder / PLAN / "timetable.csv")
    except BadInput:
        return None
    if day.shop.start is None and (now or datetime.now()) <= plan.finish:
        day = read_day(folder, plan.start)  # the start is the next opening from now: the plan's own is nearer the truth
    if plan.start != day.start or _told(plan.inputs) != _told(day.inputs):
        return None
    return today_of(day, routes, rows, ON_DISK)


def _told(inputs: Mapping[str, str]) -> dict[str, str]:
    return {name: mark for name, mark in inputs.items() if name != "log.csv"}


def _fresh(day: Day, routes: Routes, source: str) -> Today:
    solution = solve(day, routes, _LIGHT)
    if solution.table.unplaced or solution.table.broken:
        raise NoPlan(shortages(solution.instance, solution.table))
    found = today_of(day, routes, rows_of(solution.instance, solution.table), source)
    assert found is not None
    return found


def today_of(day: Day, routes: Routes, rows: Sequence[Row], source: str) -> Today | None:
    """A plan's rows by line, stage and press; None where they are not of this day's lines whole."""
    loadings = _loadings(rows)
    chains: list[Chain] = []
    laid: list[Laid] = []
    presses = {press: number for number, press in enumerate(day.presses)}
    by_line: dict[tuple[str, str], list[_Loading]] = {}
    for loading in loadings:
        by_line.setdefault(loading.key, []).append(loading)
    for number, line in enumerate(day.lines):
        mine = by_line.get(line.key, [])
        chain = _chain(routes[line.garment, line.design], line, mine)
        if chain is None or any(x.press not in presses for x in mine):
            return None
        stages = {(group[0].placement, group[0].number): stage for stage, group in enumerate(chain.groups)}
        laid += [
            Laid(number, stages[x.steps[0]], presses[x.press], day.seconds(x.start), len(x.pieces))
            for x in mine
            if x.steps[0] in stages
        ]
        if sum(x.pieces for x in laid if x.line == number) != line.quantity * len(chain.groups):
            return None
        chains.append(chain)
    finishes = {order: max(day.seconds(x.end) for x in loadings if x.key[0] == order) for order in day.orders}
    return Today(day, tuple(chains), tuple(sorted(laid, key=lambda x: x.start)), finishes, _changes(rows), source)


def _changes(rows: Iterable[Row]) -> int:
    """Changes of setting: a press's first on each date is its warm-up."""
    made = [(row.press, row.start.date()) for row in rows if row.what == "change"]
    return len(made) - len(set(made))


@dataclass
class _Loading:
    key: tuple[str, str]
    pieces: tuple[str, ...]
    press: str
    start: datetime
    end: datetime
    steps: list[tuple[str, int]]


def _loadings(rows: Iterable[Row]) -> list[_Loading]:
    """The loadings by start, with the operations they close on, in order."""
    found: dict[int, _Loading] = {}
    for row in sorted(rows, key=lambda r: (r.start, r.end)):
        if row.loading is None or row.order is None or row.line is None:
            continue
        mine = found.get(row.loading)
        if mine is None:
            mine = _Loading((row.order, row.line), row.pieces, row.press or "", row.start, row.end, [])
            found[row.loading] = mine
        mine.end = max(mine.end, row.end)
        if row.what == "dwell" and row.placement is not None and row.operation is not None:
            mine.steps.append((row.placement, row.operation))
    return [loading for loading in found.values() if loading.steps]


def _chain(routes: Sequence[Route], line: OrderLine, mine: Sequence[_Loading]) -> Chain | None:
    """How the line goes in these loadings, read off its first piece."""
    first = line.piece(1)
    groups = [x.steps for x in mine if first in x.pieces]
    order = [step for group in groups for step in group]
    for route in routes:
        if [(op.placement, op.number) for op in route.operations] == order:
            ops = iter(route.operations)
            return Chain(route, tuple(tuple(next(ops) for _ in group) for group in groups))
    return None
