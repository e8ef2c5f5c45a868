"""By the clock: the best plan so far is put right to the second on a second core while the search goes on."""

from __future__ import annotations

import math
import time
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass

from scheduler.instance import Instance
from scheduler.timetable.polish import MOST, polish
from scheduler.timetable.record import Timetable

# deterministic seconds a small day may take, for each of the clock that is left: it is not stopped on the way
_SHARE = 0.1
_ALONE = 2  # windows solved at once when nothing is searched beside them any more


@dataclass(frozen=True, slots=True)
class Plan:
    """A timetable of an instance, as it was dispatched (`played`) and as it is now."""

    instance: Instance
    played: Timetable
    table: Timetable


class Polishing:
    """Puts right whatever it was last given; `until`: a moment of the monotonic clock at which all ends."""

    def __init__(self, seed: int, until: float) -> None:
        self.seed, self.until = seed, until
        self.beside = ThreadPoolExecutor(1)
        self.given: Timetable | None = None
        self.under_way: list[Future[Plan]] = []
        self.over = False

    def take(self, instance: Instance, played: Timetable) -> None:
        """Put this plan right from now on, if it is not the one that is put right already."""
        if played is not self.given:
            self.given = played
            self.under_way.append(self.beside.submit(self._polished, instance, played))

    def finish(self) -> Plan:
        """The best of all that was taken, put right with all that is left of the time. Something must have been."""
        self.over = True
        best = min((future.result() for future in self.under_way), key=lambda plan: plan.table.value)
        if len(best.table.loadings) <= MOST and best.table is not best.played:
            return best
        table = polish(best.instance, best.table, self._effort(best.table), self.seed, self._late, _ALONE)
        return Plan(best.instance, best.played, table)

    def end(self) -> None:
        """Stop at once, whatever is under way."""
        self.over = True
        self.beside.shutdown(cancel_futures=True)

    def _polished(self, instance: Instance, played: Timetable) -> Plan:
        def stop() -> bool:
            return self.over or self.given is not played or self._late()

        return Plan(instance, played, polish(instance, played, self._effort(played), self.seed, stop, 1))

    def _effort(self, table: Timetable) -> float:
        """Deterministic seconds: without end where it can be stopped on the way."""
        left = max(0.0, self.until - time.monotonic())
        return _SHARE * left if len(table.loadings) <= MOST else math.inf

    def _late(self) -> bool:
        return time.monotonic() > self.until
