"""The best plan so far, kept outside every solver: what counts is the timetable's figure."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from typing import NamedTuple

from scheduler.instance import Instance
from scheduler.solving.bundles import Work
from scheduler.solving.settings import Settings, programme
from scheduler.timetable.dispatch import dispatch
from scheduler.timetable.manner import MANNERS, Manner
from scheduler.timetable.programme import Block, Programme
from scheduler.timetable.record import Timetable

_MANY = 1500  # piece-loadings: beyond it a playing takes its time
_NEAR_LATE, _NEAR_WORK = 3600, 1.02  # how much worse, in weighted seconds and as a share, another manner may mend

Progress = Callable[[str, Timetable], None]
Kept = tuple[Timetable | None, Programme, Instance | None, Manner]


class _Seen(NamedTuple):
    """What a programme came to; `whole`: in every manner in which it was worth playing."""

    instance: Instance
    table: Timetable
    whole: bool


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

    `near`: what was played with the least work where a weighted late second counts as one of work, and its instance: a
    little late, it may be mended for less than the best has. `leisure`: by the clock, what other manners of serving may
    take of it; the best is `owed` a playing in these, and gets it when there is time.
    """

    tell: Progress = lambda stage, table: None
    table: Timetable | None = None
    programme: Programme = ()
    instance: Instance | None = None
    manner: Manner = MANNERS[0]
    seen: dict[Programme, _Seen] = field(default_factory=dict, repr=False)
    near: tuple[Instance, Timetable] | None = None
    leisure: Leisure | None = None
    owed: tuple[Instance, Programme] | None = field(default=None, repr=False)
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
        """Dispatch a programme and offer what comes of it, in every manner where that is promising; the best of
        them comes back. Large days are played only in the manner that was best so far; `alone`: any day.
        """
        seen = self.seen.get(plan)
        if seen is not None and seen.instance is instance and (alone or seen.whole):
            return seen.table
        small = sum(instance.quantity(task.line) for task in instance.tasks) <= _MANY
        before = self.value
        table = self._in_manner(stage, instance, plan, self.manner)
        best = table.value < before
        if small and self.leisure is not None:
            if best:
                self.owed = instance, plan
            self._pay(stage, self.leisure)
        elif small and (self._near(table) if not alone else best):
            table = min(table, self._in_others(stage, instance, plan), key=lambda t: t.value)
        if small:
            self.seen[plan] = _Seen(instance, table, best or not alone)
        return table

    def _pay(self, stage: str, leisure: Leisure) -> None:
        """Play what is owed it in the other manners, if there is time for that."""
        if self.owed is not None and leisure.left:
            (instance, plan), self.owed = self.owed, None
            leisure.spend(lambda: self._in_others(stage, instance, plan))

    def _in_others(self, stage: str, instance: Instance, plan: Programme) -> Timetable:
        others = [manner for manner in MANNERS if manner != self.manner]
        return min((self._in_manner(stage, instance, plan, manner) for manner in others), key=lambda t: t.value)

    def _in_manner(self, stage: str, instance: Instance, plan: Programme, manner: Manner) -> Timetable:
        table = dispatch(instance, plan, manner)
        self.offer(stage, instance, plan, table, manner)
        if self.near is None or table.late + table.work < self.near[1].late + self.near[1].work:
            self.near = instance, table
        return table

    def _near(self, table: Timetable) -> bool:
        """Whether another manner of serving might make it the best."""
        assert self.table is not None
        return table.late <= self.table.late + _NEAR_LATE and table.work <= _NEAR_WORK * self.table.work


def programme_of(settings: Settings, work: Work, sequences: Sequence[Sequence[int]]) -> Programme:
    """Job sequences as stretches of blocks with settings."""
    blocks = [[Block(work.jobs[j].task, work.jobs[j].pieces) for j in jobs] for jobs in sequences]
    return programme(settings, blocks)
