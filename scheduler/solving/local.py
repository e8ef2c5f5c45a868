"""Local search on the rough estimate, by the thousand moves.

Simulated annealing (Kirkpatrick, Gelatt and Vecchi 1983, Science 220): a move for the worse is taken the seldomer, the
worse it is and the cooler the search has become. By moves the search is repeatable; by the clock it cools with time.
"""

from __future__ import annotations

import math
import random
import time
from collections.abc import Callable
from typing import Protocol

from scheduler.solving.bundles import Work
from scheduler.solving.estimate import Estimator
from scheduler.solving.moves import Moves, Sequences
from scheduler.solving.rough import Estimate, Limit

LATE_SECOND = 200.0  # what a weighted late second counts beside a second of work
HOT, WARM, _COLD = 600.0, 60.0, 10.0  # seconds of work: one change is about as much as the first
_LATE_SECOND = 10.0  # what it counts on the way: at more there are walls between plans with few changes
_LATE_AT_START = 4.0  # what it counts where a search begins: a few changes too many are harder to mend than lateness
_ALIKE = 5.0  # seconds: closer than this two costs are taken for the same plan's
_OFTEN = 50  # moves after which it is asked what time it is

ENDLESS = 1 << 60  # moves: it is the clock that ends it

Stop = Callable[[], bool]


def search(
    estimator: Estimator, start: Sequences, moves: int, rng: random.Random, stop: Stop = lambda: False
) -> Sequences:
    """The best sequences seen in so many moves from `start`; `start` itself where none is better."""
    return finalists(estimator, start, moves, rng, 1, stop)[0]


def finalists(
    estimator: Estimator,
    start: Sequences,
    moves: int,
    rng: random.Random,
    count: int,
    stop: Stop = lambda: False,
    passed: Callable[[], float] | None = None,
    hot: float = HOT,
    dear: float = LATE_SECOND,
) -> list[Sequences]:
    """The few best sequences seen in so many moves, each of another cost, the best first: the estimate is rough.

    `passed`: by the clock, the share of the search's time that has passed, at which it cools and ends; without it, that
    of its moves. `hot`: the temperature it begins at, seconds of work; a hot search forgets where it began. `dear`:
    what a weighted late second counts among the best, seconds of work.
    """
    return _Search(estimator, start, rng, count, hot, dear).run(moves, stop, passed)


class Weighed(Protocol):
    """What has both goals, in seconds: an estimate, or a timetable."""

    @property
    def late(self) -> float:
        """Weighted lateness."""

    @property
    def work(self) -> float:
        """The second goal."""


def cost(plan: Weighed, dear: float = LATE_SECOND) -> float:
    """One figure for both goals, seconds."""
    return dear * plan.late + plan.work


def start_cost(plan: Weighed) -> float:
    """The same where a search is to begin."""
    return cost(plan, _LATE_AT_START)


def clock(seconds: float) -> Callable[[], float]:
    """The share of so many seconds from now that has passed."""
    began = time.monotonic()
    return lambda: (time.monotonic() - began) / seconds


class _Search:
    def __init__(
        self, estimator: Estimator, start: Sequences, rng: random.Random, count: int, hot: float, dear: float
    ) -> None:
        self.e, self.count, self.rng, self.dear = estimator, count, rng, dear
        self.work: Work = estimator.work
        self.moves = Moves(estimator, rng)
        goals = estimator.instance.day.shop.goals
        worth = max(goals.finish, goals.change / 10, 0.1)  # of a second of work, for the temperatures
        self.hot, self.cold = worth * hot, worth * _COLD
        self.late_second = worth * _LATE_SECOND
        first = estimator.run(start)
        assert first is not None
        self.now, self.found = align(self.work, start, first), first
        again = estimator.run(self.now)
        if again is None or cost(again, dear) > cost(first, dear):
            self.now = [list(s) for s in start]
        else:
            self.found = again
        self.record = estimator.record(self.now)
        self.best = [(cost(self.found, dear), self.now)]

    def run(self, moves: int, stop: Stop, passed: Callable[[], float] | None) -> list[Sequences]:
        heat = self.hot
        for count in range(moves):
            if count % _OFTEN == 0:
                share = count / moves if passed is None else passed()
                if share >= 1 or stop():
                    break
                heat = self.hot * (self.cold / self.hot) ** share
            new = self.moves.draw(self.now)
            if new is not None:
                self._try(new, self._cost(self.found) - heat * math.log(1 - self.rng.random()))
        return [sequences for _, sequences in self.best]

    def _try(self, new: Sequences, take: float) -> None:
        """Go on from these sequences if they cost no more than `take`."""
        keep = self.best[-1][0] if len(self.best) == self.count else math.inf
        found = self.e.run(new, Limit(self.late_second, take, self.dear, keep), self.record)
        if found is None:
            return
        self._keep(cost(found, self.dear), new)
        if self._cost(found) <= take:
            self.now, self.found = align(self.work, new, found), found
            self.record = self.e.record(self.now, self.record)

    def _cost(self, estimate: Estimate) -> float:
        return self.late_second * estimate.late + estimate.work

    def _keep(self, value: float, sequences: Sequences) -> None:
        """Keep the few best, each of another cost."""
        if len(self.best) == self.count and value >= self.best[-1][0]:
            return
        if all(abs(value - other) > _ALIKE for other, _ in self.best):
            self.best.append((value, sequences))
            self.best.sort(key=lambda kept: kept[0])
            del self.best[self.count :]


def align(work: Work, sequences: Sequences, estimate: Estimate) -> Sequences:
    """The same sequences with like bundles renamed, so that in each stage they go in the order of their numbers."""
    alike: dict[int, list[int]] = {}
    for job in work.jobs:
        alike.setdefault(job.task, []).append(job.index)
    name: dict[int, int] = {}
    for jobs in alike.values():
        by_start = sorted(jobs, key=lambda j: (estimate.starts[j], j))
        name.update(zip(by_start, jobs, strict=True))
    return [[name[j] for j in jobs] for jobs in sequences]
