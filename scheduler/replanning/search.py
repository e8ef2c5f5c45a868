"""The rest of a day solved with the solver's own rooms, and of near-equal plans the one that keeps most of the old."""

from __future__ import annotations

import math
import random
import time
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

from models.problem import NoPlan
from scheduler import calendar
from scheduler.instance import Instance, Routes
from scheduler.output.layout import counted
from scheduler.replanning.before import Before
from scheduler.replanning.kept import in_common
from scheduler.replanning.standing import Carried
from scheduler.solving.axis import Axis
from scheduler.solving.corrected import corrected, margin
from scheduler.solving.efforts import Effort
from scheduler.solving.improve import neighbourhoods
from scheduler.solving.incumbent import FEW, Incumbent, Progress
from scheduler.solving.late_bound import late_bound
from scheduler.solving.least import LeastOperation, least_left
from scheduler.solving.paces import Rhythms
from scheduler.solving.view import View, shaken
from scheduler.timetable.dispatch import dispatch
from scheduler.timetable.manner import MANNERS, Manner
from scheduler.timetable.measure import measure
from scheduler.timetable.programme import Programme
from scheduler.timetable.record import Loading, Timetable

NEAR = 1.01  # plans within one per cent of the best work figure are as good as each other
_SURE = 0.5
_BOUND = 0.25  # share of an effort's measure for bounds: who replans stands waiting
_STARTS = 3  # searches between two looks at the clock

_STEADY = (MANNERS[0], MANNERS[3])  # the ways of serving a long rest is first played in: the usual, and in order

Label = tuple[tuple[str, str], str, int]  # order and line, placement, first operation


@dataclass
class _Played(Incumbent):
    """An incumbent that remembers everything it was shown."""

    played: list[Timetable] = field(default_factory=list)

    def offer(self, stage: str, instance: Instance, plan: Programme, table: Timetable, manner: Manner) -> bool:
        self.played.append(table)
        return super().offer(stage, instance, plan, table, manner)


@dataclass(frozen=True)
class Rest:
    """The rest of a day, timed, with bounds (late, work) in seconds, and how many of the old loadings it keeps."""

    table: Timetable
    bounds: tuple[float, float]
    kept: int
    left: int
    as_planned: bool = False


def solve_rest(
    carried: Carried, routes: Routes, effort: Effort, seed: int, seconds: float | None, tell: Progress
) -> Rest:
    """Plan what is left. Raises NoPlan with reasons where some of it finds no press or no time."""
    refuse_unfit(carried.instance)
    return _Rest(carried, routes, effort, seed, seconds, tell).run()


def labels(carried: Carried, loadings: Sequence[Loading]) -> list[list[Label]]:
    """What each press runs, loading by loading."""
    found: list[list[Label]] = [[] for _ in carried.instance.presses]
    for loading in sorted(loadings, key=lambda x: x.start):
        task = loading.script.task
        line = carried.instance.lines[task.line]
        found[loading.press].append((line.key, task.placement, task.steps[0].operation.number))
    return found


class _Rest:
    def __init__(
        self, carried: Carried, routes: Routes, effort: Effort, seed: int, seconds: float | None, tell: Progress
    ) -> None:
        self.carried, self.routes, self.effort, self.seconds = carried, routes, effort, seconds
        self.instance = carried.instance
        self.before = Before(carried)
        self.best = _Played(tell)
        self.seed, self.rng = seed, random.Random(seed)
        self.began = time.monotonic()
        self.bounds = (0.0, 0.0)
        self.old = self._old_labels()
        self.as_planned: Timetable | None = None

    def run(self) -> Rest:
        if not any(lot.pieces for lot in self.instance.lots):
            return self._nothing_left()
        self.as_planned = self._as_planned()
        programme = self.before.programme()
        for manner in MANNERS if self._small() else _STEADY:
            self.best.offer("before", self.instance, programme, dispatch(self.instance, programme, manner), manner)
        view = View.of(self.instance, self.effort.jobs, Rhythms(self.effort.rhythms))
        self.bounds = self._bounds(least_left(self.instance, self.routes))
        mine = self.before.sequences(view.work)
        swept = [view.sequences, *(view.first[1:2] if self._small() else ())]
        if view.estimator.run(mine) is not None:
            view.play(self.best, "before", mine)
        for sequences in swept:
            if not self.stop():
                view.play(self.best, "seed", sequences)
        self._search(view, self.effort.starts)
        neighbourhoods(self.best, view, self.effort, self.seed, self.stop)
        while self.seconds is not None and not self.stop():
            self._search(view, _STARTS)
        if self.seconds is None:
            self.best.settle()
        return self._steadiest()

    def _small(self) -> bool:
        return self.instance.loads <= FEW

    def stop(self) -> bool:
        """Whether the clock has run out, where one was set, or the gap is closed."""
        if self.seconds is not None and time.monotonic() - self.began > self.seconds:
            return True
        value = self.best.value
        return value[0] == 0 and value[1] <= self.bounds[0] + _SURE and value[2] <= self.bounds[1] + _SURE

    def _search(self, view: View, starts: int) -> None:
        for number in range(starts):
            if self.stop():
                break
            start = shaken(view, view.sequences, self.rng) if number % 3 == 2 else view.sequences
            view.estimator.draw_in(margin(view, number))
            corrected(view, self.best, self.effort, start, self.rng, self.stop)

    def _bounds(self, least: list[LeastOperation]) -> tuple[float, float]:
        """Bounds on the whole day's figures: what stands already counts as it is."""
        stood = measure(self.instance, self._worked())
        left = {self.instance.order_of[op.line] for op in least}
        late = late_bound(self.instance, least, _BOUND * self.effort.bound) if self.best.value[1] else 0.0
        late += sum(
            weight * max(0, done - due)
            for order, (weight, done, due) in enumerate(
                zip(self.instance.priority, stood.order_finish, self.instance.due, strict=True)
            )
            if due is not None and order not in left
        )
        goals = self.instance.day.shop.goals
        past = stood.work - goals.finish * stood.finish
        return late, past + goals.finish * max(_least_finish(self.instance, least), stood.finish)

    def _as_planned(self) -> Timetable | None:
        """The rest of the plan before as it stands, where it has a place for every piece."""
        rest, standing = self.carried.rest, self.instance.standing
        if rest is None or standing is None or self.before.homeless:
            return None
        table = Timetable(rest.loadings, rest.changes, worked=standing.loadings, changed=standing.changes)
        self.best.played.append(measure(self.instance, table))
        return table

    def _worked(self) -> Timetable:
        standing = self.instance.standing
        assert standing is not None
        return Timetable([], [], worked=standing.loadings, changed=standing.changes)

    def _nothing_left(self) -> Rest:
        table = measure(self.instance, self._worked())
        return Rest(table, (table.late, table.work), 0, 0)

    def _steadiest(self) -> Rest:
        """Of the plans that are as good as the best, the one that keeps most loadings on their press and in order."""
        sound = [table for table in self.best.played if not table.value[0]]
        if not sound:
            from scheduler.timetable.shortage import shortages

            assert self.best.table is not None
            raise NoPlan(shortages(self.instance, self.best.table))
        late = min(table.value[1] for table in sound)
        in_time = [table for table in sound if table.value[1] <= late + 1e-6]
        work = min(table.work for table in in_time)
        good = [table for table in in_time if table.work <= NEAR * work + 1e-6]
        table = max(good, key=lambda t: (self._kept(t), -t.work))
        late_bound, work_bound = min(self.bounds[0], table.late), min(self.bounds[1], table.work)
        left = sum(map(len, self.old))
        return Rest(table, (late_bound, work_bound), self._kept(table), left, table is self.as_planned)

    def _kept(self, table: Timetable) -> int:
        if table is self.as_planned:
            return sum(map(len, self.old))
        now = labels(self.carried, table.loadings)
        return sum(in_common(old, new) for old, new in zip(self.old, now, strict=True))

    def _old_labels(self) -> list[list[Label]]:
        found: list[list[Label]] = [[] for _ in self.instance.presses]
        for loading in self.before.loadings:
            wanted = any(piece in self.carried.lot_of for piece in loading.pieces)
            if loading.steps and wanted:
                key = (loading.order, loading.line)
                found[self.before.press[loading.press]].append((key, loading.placement, loading.steps[0][1]))
        return found


def refuse_unfit(instance: Instance) -> None:
    """Raise NoPlan with what no press takes any more."""
    waiting: dict[tuple[str, str], dict[str, dict[int, int]]] = {}  # a line may be left in several lots
    for task in instance.tasks:
        line = instance.lines[task.line]
        if instance.quantity(task.line) and not task.fits:
            places = waiting.setdefault((line.order, line.line), {})
            places.setdefault(task.placement, {})[task.line] = instance.quantity(task.line)
    if waiting:
        advice = 'Say until when a press is down or somebody absent, or log "cancel" for what cannot be done.'
        raise NoPlan([*(_unfit(*key, places) for key, places in waiting.items()), advice])


def _unfit(order: str, line: str, places: Mapping[str, Mapping[int, int]]) -> str:
    names = " or ".join(f'"{place}"' for place in places)
    pieces = max(sum(lots.values()) for lots in places.values())
    return (
        f'order "{order}" line {line}: no press that is at work any more, with somebody who runs it, takes {names}; '
        f"{counted(pieces, 'piece waits', 'pieces wait')} for it"
    )


def _least_finish(instance: Instance, least: Sequence[LeastOperation]) -> int:
    """The second before which the rest cannot be done: all hands, and all platens, at work from now on."""
    axis = Axis(calendar.shop_windows(instance.day))
    speed = sum(1 / who.pace for who in instance.people) or 1.0
    platens = sum(side.stations for side in instance.presses) or 1
    hands = sum(op.pieces * op.hands for op in least) / speed
    presses = sum(op.pieces * min(fit.occupied for fit in op.fits.values()) for op in least if op.fits) / platens
    return axis.real(axis.work(instance.begins) + math.floor(max(hands, presses)))
