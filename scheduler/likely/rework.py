"""Spoiled pieces made again, at what that costs.

A spoiled piece wants a new blank and is made again from its first operation, as the log has it. It is spoiled in one
of its line's stages (kinds of loadings), each as likely, and made again once the line's last loading of that stage
is off. Each stage up to that one is run where a press next has a setting that suits it, between two loadings; what
finds no such moment comes after everything planned, with the changes of setting it takes. Where the order would be
late by that, the piece is made again at once, with the changes there and back. Later stages take the line's last
planned loading of them where that is still to come. One person stays with a piece that is made again,
with all its hand rows and dwells. What was planned for the spoiled piece is taken by another blank of its line, so
nothing planned falls away.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from scheduler.likely.draws import Counts
from scheduler.likely.hours import Times
from scheduler.likely.network import Dressing, Node
from scheduler.likely.rooms import Setting
from scheduler.likely.stages import Key, Stage, Suits, stages_of

if TYPE_CHECKING:
    from scheduler.likely.play import Play


@dataclass(slots=True, eq=False)
class _Job:
    """Pieces of a line made again together. `there`: when they are through the stages run so far, on each day."""

    key: Key
    counts: Counts
    there: Times
    left: list[Stage]  # what finds no suitable moment in the plan
    joins: Stage | None = None  # the stage whose last planned loading they take


@dataclass(frozen=True, slots=True, eq=False)
class _Moment:
    """A stage run again after this row of the plan, on a press, with so many seconds of changes there and back."""

    row: int
    stage: Stage
    press: int
    changes: float = 0.0


class Rework:
    """What is spoiled on each day, and the work of making it again."""

    def __init__(self, play: Play, dressings: Sequence[Dressing], suits: Suits) -> None:
        self.play, self.suits = play, suits
        self.finish: dict[Key, Times] = {}
        self.pieces = np.zeros(play.draws.days)
        self.holds: dict[int, Times] = {}
        self.after: dict[int, list[tuple[_Job, _Moment]]] = defaultdict(list)
        self.jobs: list[_Job] = []
        orders = play.day.orders.values()
        self.due = {order.id: play.day.seconds(order.due) for order in orders if order.due is not None}
        self.offs = sorted(dressings, key=lambda x: (_over(x), x.number))
        if play.draws.spread.spoil > 0:
            to_come: dict[Key, set[str]] = defaultdict(set)
            for dressing in dressings:
                if not self._known(dressing):
                    to_come[dressing.key].update(dressing.pieces)
            for key, stages in stages_of(dressings).items():
                self._draw(stages, len(to_come[key]))

    def _known(self, dressing: Dressing) -> bool:
        """Whether it lies in the past that is known: what was spoiled then is planned again already."""
        return dressing.load.start < self.play.known.until

    def _draw(self, stages: Sequence[Stage], quantity: int) -> None:
        """So many pieces of a line may be spoiled, in a stage that is still to come."""
        ahead = [number for number, stage in enumerate(stages) if not self._known(stage.final)]
        if not ahead:
            return
        spoiled = self.play.draws.spoiled(quantity)
        self.pieces = self.pieces + spoiled
        for number, counts in zip(ahead, self.play.draws.shared_out(spoiled, len(ahead)), strict=True):
            if counts.any():
                self.jobs.append(self._place(stages, number, counts))

    def _place(self, stages: Sequence[Stage], spoiled_in: int, counts: Counts) -> _Job:
        """Find the moments of the plan at which the stages can be run again; it looks at planned times only."""
        key, over = stages[0].key, float(_over(stages[spoiled_in].final))
        joins = _joins(stages, spoiled_in, over)
        wanted = stages[: stages.index(joins)] if joins else stages
        moments, done = self._moments(wanted, over)
        broken, sooner = self._break_in(wanted, stages[spoiled_in])
        if broken and sooner < done and done > self.due.get(key[0], math.inf):
            moments = broken
        job = _Job(key, counts, np.zeros(len(counts)), list(wanted[len(moments) :]), joins)
        for moment in moments:
            self.after[moment.row].append((job, moment))
        return job

    def _moments(self, stages: Sequence[Stage], at: float) -> tuple[list[_Moment], float]:
        """When each stage next finds a press set so that it suits, and when all is done; what finds none is left."""
        found: list[_Moment] = []
        for stage in stages:
            fit = next((x for x in self.offs if _over(x) >= at and self.suits(stage, x.press, x.setting)), None)
            if fit is None:
                return found, float(_over(self.offs[-1]))
            found.append(_Moment(fit.off.row, stage, fit.press))
            at = max(at, _over(fit)) + stage.one
        return found, at

    def _break_in(self, stages: Sequence[Stage], spoiled_in: Stage) -> tuple[list[_Moment], float]:
        """The stages at once, on the press that spoiled the piece, with changes there and back; none where another
        press is wanted."""
        final, found = spoiled_in.final, list[_Moment]()
        now, at = final.setting, float(_over(final))
        if any(stage.press != final.press for stage in stages):
            return [], at
        room = self.play.presses[final.press]
        for n, stage in enumerate(stages):
            changes = room.between(now, stage.setting)
            at, now = at + changes + stage.one, stage.setting
            changes += room.between(now, final.setting) if n == len(stages) - 1 else 0.0
            found.append(_Moment(final.off.row, stage, final.press, changes))
        return found, at

    def follow(self, node: Node) -> None:
        """Make again what has its moment after this row."""
        for job, moment in self.after.pop(node.row, ()):
            lasts = moment.stage.seconds(job.counts) + moment.changes * self.play.draws.change()
            begun = np.maximum(job.there, self.play.end[node.row])
            job.there = self._block(moment.stage, moment.press, job.counts, lasts, begun)
            self._finished(job)
            if job.joins is not None:
                row = job.joins.final.load.row
                held = np.where(job.counts > 0, job.there, 0.0)
                self.holds[row] = np.maximum(self.holds.get(row, 0.0), held)

    def rest(self) -> None:
        """Make the others again after everything planned, line by line in the order in which they were to finish."""
        rooms = self.play.presses
        settings = list(dict.fromkeys(x.setting for x in self.offs))
        now = [np.full(self.play.draws.days, settings.index(r.setting) if r.setting in settings else 0) for r in rooms]
        for job in sorted((j for j in self.jobs if j.left), key=lambda j: j.left[-1].final.last.start):
            for stage in job.left:
                change = self._changes(stage, now[stage.press], settings) * self.play.draws.change()
                lasts = stage.seconds(job.counts) + change
                job.there = self._block(stage, stage.press, job.counts, lasts, job.there)
                now[stage.press] = np.where(job.counts > 0, settings.index(stage.setting), now[stage.press])
            self._finished(job)

    def _changes(self, stage: Stage, now: Counts, settings: Sequence[Setting]) -> Times:
        room, lasts = self.play.presses[stage.press], np.zeros(self.play.draws.days)
        for index in np.unique(now):
            lasts = np.where(now == index, room.between(settings[int(index)], stage.setting), lasts)
        return lasts

    def _finished(self, job: _Job) -> None:
        done = np.where(job.counts > 0, job.there, 0.0)
        self.finish[job.key] = np.maximum(self.finish.get(job.key, 0.0), done)

    def _block(self, stage: Stage, press: int, counts: Counts, lasts: Times, at: Times) -> Times:
        """The work on the press by the person who is free first; when its pieces are through. No work, no time."""
        room, crew, where = self.play.presses[press], self.play.crew, counts > 0
        who = self.play.running[press]
        both = [self.play.hours.together(press, p) for p in who]
        at = np.maximum(at, room.free)
        starts = np.array([hours.fit(np.maximum(at, crew.free[p]), 1) for p, hours in zip(who, both, strict=True)])
        first, start = starts.argmin(axis=0), starts.min(axis=0)
        cold = room.cold(start, where)
        if cold.any():
            start = room.warmed(stage.setting, start, cold)
        done, noise = at, self._noise(counts)
        for n, p in enumerate(who):
            mine = where & (first == n)
            if mine.any():
                done = np.where(mine, both[n].advance(start, lasts * noise * crew.factors[p]), done)
                crew.occupy(p, done, mine, float(done.max()))
        room.free = np.where(where, np.maximum(room.free, done), room.free)
        return np.where(where, done + stage.tail, at)

    def _noise(self, counts: Counts) -> Times:
        return self.play.draws.hand(max(1, int(np.ceil(counts[counts > 0].mean()))))


def _joins(stages: Sequence[Stage], spoiled_in: int, over: float) -> Stage | None:
    """The first later stage whose last planned loading is still to come: pieces made again take it."""
    return next((stage for stage in stages[spoiled_in + 1 :] if stage.final.load.start >= over), None)


def _over(dressing: Dressing) -> int:
    return dressing.off.start + dressing.off.seconds
