"""The best plan so far, kept outside every solver: what counts is the timetable's figure."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import partial
from typing import NamedTuple

from scheduler.instance import Instance
from scheduler.solving.bundles import Work
from scheduler.solving.settings import Settings, programme
from scheduler.timetable.dispatch import dispatch
from scheduler.timetable.manner import MANNERS, Manner
from scheduler.timetable.programme import Block, Programme
from scheduler.timetable.record import Timetable

FEW = 100  # loadings of a single piece: up to so many a playing takes no time
_MANY = 1500  # beyond so many it takes long
_NEAR_LATE, _NEAR_WORK = 3600, 1.02  # how much worse, in weighted seconds and as a share, another manner may mend

Progress = Callable[[str, Timetable], None]
Kept = tuple[Timetable | None, Programme, Instance | None, Manner]


class _Seen(NamedTuple):
    """What a programme came to; `whole`: in every manner in which it was worth playing."""

    instance: Instance
    table: Timetable
    whole: bool


class Near(NamedTuple):
    """A programme, and what it came to in a manner."""

    instance: Instance
    programme: Programme
    manner: Manner
    table: Timetable


class Leisure:
    """A share of the time that passes from now on, for something that is worth no more."""

    def __init__(self, share: float) -> None:
        self.share, self.began, self.spent = share, time.monotonic(), 0.0

    @property
    def left(self) -> bool:
        """Whether there is time for it."""
        return self.spent <= self.share * (time.monotonic() - self.began)

    def spend(self, what: Callable[[], object]) -> None:
        """Do it, and count the time it takes."""
        began = time.monotonic()
        what()
        self.spent += time.monotonic() - began


@dataclass
class Incumbent:
    """A timetable, the programme and the instance it was played from. `offer` takes what is better, only that.

    `near`: what was played with the least work where a weighted late second counts as one of work: a little late, it
    may be mended for less than the best has. These two are owed a playing in the other manners (`settle`); `leisure`:
    by the clock, what that may take of it.
    """

    tell: Progress = lambda stage, table: None
    table: Timetable | None = None
    programme: Programme = ()
    instance: Instance | None = None
    manner: Manner = MANNERS[0]
    seen: dict[Programme, _Seen] = field(default_factory=dict, repr=False)
    near: Near | None = None
    leisure: Leisure | None = None
    settled: dict[Programme, Instance] = field(default_factory=dict, repr=False)
    history: list[tuple[str, tuple[int, float, float]]] = field(default_factory=list)

    @property
    def value(self) -> tuple[float, float, float]:
        """What stands to be beaten."""
        return self.table.value if self.table else (float("inf"), float("inf"), float("inf"))

    def offer(self, stage: str, instance: Instance, plan: Programme, table: Timetable, manner: Manner) -> bool:
        """Keep a timetable that is better than the best so far; whether it was."""
        if table.value >= self.value:
            return False
        self.table, self.programme, self.instance, self.manner = table, plan, instance, manner
        self.history.append((stage, table.value))
        self.tell(stage, table)
        return True

    def kept(self) -> Kept:
        """The best so far, to go back to."""
        return self.table, self.programme, self.instance, self.manner

    def back_to(self, kept: Kept) -> None:
        """Forget what was found since."""
        self.table, self.programme, self.instance, self.manner = kept

    def play(self, stage: str, instance: Instance, plan: Programme, alone: bool = False) -> Timetable:
        """Dispatch a programme and offer what comes of it; the best of it comes back. Days of few loadings are played
        in every manner where that is promising, unless `alone`; else only in the one that was best so far, and the best
        is owed the others.
        """
        few = instance.loads <= FEW
        alone = alone or not few or self.leisure is not None
        seen = self.seen.get(plan)
        if seen is not None and seen.instance is instance and (alone or seen.whole):
            return seen.table
        manner = self.manner
        table = self._in_manner(stage, instance, plan, manner)
        best = table is self.table
        if few and self.leisure is None and (best if alone else self._near(table)):
            table = min(table, self._in_others(stage, instance, plan, manner), key=lambda t: t.value)
        if instance.loads <= _MANY:
            self.seen[plan] = _Seen(instance, table, best or not alone)
            if self.leisure is not None:
                self.settle(stage)
        return table

    def settle(self, stage: str = "served otherwise") -> None:
        """Play the best, and what is near it, in the other manners, if they were not and there is time for it: by the
        clock its share, by effort where a playing does not take long."""
        for instance, plan, manner in self._owed():
            if self.leisure is None and instance.loads <= _MANY:
                self._in_others(stage, instance, plan, manner)
            elif self.leisure is not None and self.leisure.left:
                self.leisure.spend(partial(self._in_others, stage, instance, plan, manner))

    def _owed(self) -> list[tuple[Instance, Programme, Manner]]:
        found = [] if self.instance is None else [(self.instance, self.programme, self.manner)]
        found += [self.near[:3]] if self.near is not None and self.near.programme != self.programme else []
        return [owed for owed in found if self.settled.get(owed[1]) is not owed[0]]

    def _in_others(self, stage: str, instance: Instance, plan: Programme, but: Manner) -> Timetable:
        self.settled[plan] = instance
        others = [manner for manner in MANNERS if manner != but]
        return min((self._in_manner(stage, instance, plan, manner) for manner in others), key=lambda t: t.value)

    def _in_manner(self, stage: str, instance: Instance, plan: Programme, manner: Manner) -> Timetable:
        table = dispatch(instance, plan, manner)
        self.offer(stage, instance, plan, table, manner)
        if self.near is None or table.late + table.work < self.near.table.late + self.near.table.work:
            self.near = Near(instance, plan, manner, table)
        return table

    def _near(self, table: Timetable) -> bool:
        """Whether another manner of serving might make it the best."""
        assert self.table is not None
        return table.late <= self.table.late + _NEAR_LATE and table.work <= _NEAR_WORK * self.table.work


def programme_of(settings: Settings, work: Work, sequences: Sequence[Sequence[int]]) -> Programme:
    """Job sequences as stretches of blocks with settings."""
    blocks = [[Block(work.jobs[j].task, work.jobs[j].pieces) for j in jobs] for jobs in sequences]
    return programme(settings, blocks)
