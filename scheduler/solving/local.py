"""Local search on the rough estimate, by the thousand moves.

The way from one good plan to another often leads through late ones: lateness weighs less the longer nothing is late,
and more the longer something is (strategic oscillation, Glover and Laguna 1997, Tabu Search, ch. 4).

Late acceptance (Burke and Bykov 2017, European Journal of Operational Research 258): a move is kept when it
is no worse than what stood some moves ago. Moves are counted, so that the search is repeatable.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Sequence

from scheduler.solving.bundles import Work
from scheduler.solving.estimate import Estimator
from scheduler.solving.moves import Moves, Sequences
from scheduler.solving.rough import Estimate, Limit

LATE_SECOND = 200.0  # what a weighted late second counts beside a second of work while searching
_MEMORY = 12  # moves
_WEIGHTS = (0.2, 100.0)  # seconds of work that a weighted late second counts at the least and at the most
_STEP, _TURN = 1.3, 30  # by how much it weighs more or less, and after how many moves
MANY = 100  # jobs: of so many some are always late
# moves for each job: after so many without a better plan a search starts anew; where there are many jobs, after so many
_TIRED, _TIRED_OF_MANY = 8, 80
_KICKS = 30  # moves taken whatever they cost, to start somewhere else
_ALIKE = 5.0  # seconds: closer than this two costs are taken for the same plan's


def search(
    estimator: Estimator, start: Sequences, moves: int, rng: random.Random, stop: Callable[[], bool] = lambda: False
) -> Sequences:
    """The best sequences seen in so many moves from `start`; `start` itself where none is better."""
    return finalists(estimator, start, moves, rng, 1, stop)[0]


def finalists(
    estimator: Estimator,
    start: Sequences,
    moves: int,
    rng: random.Random,
    count: int,
    stop: Callable[[], bool] = lambda: False,
    others: Sequence[Sequences] = (),
) -> list[Sequences]:
    """The few best sequences seen in so many moves, each of another cost, the best first: the estimate is rough.

    `others`: where a search that has tired may start anew.
    """
    return _Search(estimator, start, rng, count, others).run(moves, stop)


def cost(estimate: Estimate) -> float:
    """One figure for both goals, seconds."""
    return LATE_SECOND * estimate.late + estimate.work


class _Search:
    def __init__(
        self,
        estimator: Estimator,
        start: Sequences,
        rng: random.Random,
        count: int,
        others: Sequence[Sequences] = (),
    ) -> None:
        self.e, self.count, self.rng = estimator, count, rng
        self.work: Work = estimator.work
        self.moves = Moves(estimator, rng)
        first = estimator.run(start)
        assert first is not None
        self.now, self.found = align(self.work, start, first), first
        again = estimator.run(self.now)
        if again is None or cost(again) > cost(first):
            self.now = [list(s) for s in start]
        else:
            self.found = again
        self.others = others or [self.now]
        jobs = len(self.work.jobs)
        self.tired = jobs * (_TIRED if jobs <= MANY else _TIRED_OF_MANY)
        self.best = [(cost(self.found), self.now)]
        self.starts = 0
        self._from_here()

    def _from_here(self) -> None:
        """Forget what was seen: nothing was accepted before, and no move was in vain."""
        self.memory = [self.found.value] * _MEMORY
        self.weight = _WEIGHTS[1]
        self.reached, self.vain = cost(self.found), 0  # the best since it last began, moves in vain

    def run(self, moves: int, stop: Callable[[], bool]) -> list[Sequences]:
        for count in range(moves):
            if count % 50 == 0 and stop():
                break
            self.vain += 1
            if self.vain > self.tired:
                self._start_anew()
            if count % _TURN == 0:
                self._weigh()
            new = self.moves.draw(self.now)
            if new is None:
                continue
            slot = count % _MEMORY
            found = self.e.run(new, self._limit(slot))
            if found is not None:
                reached = cost(found)
                self._keep(reached, new)
                if reached < self.reached:
                    self.reached, self.vain = reached, 0
                value = self._cost(found.value)
                if value <= self._cost(self.found.value) or value <= self._cost(self.memory[slot]):
                    self.now, self.found = align(self.work, new, found), found
            if self._cost(self.found.value) < self._cost(self.memory[slot]):
                self.memory[slot] = self.found.value
        return [sequences for _, sequences in self.best]

    def _start_anew(self) -> None:
        """From the best well shaken, from the best, and from another plan, in turn."""
        self.starts += 1
        _, best = self.best[0]
        kind = self.starts % 3
        self.now = self._shaken(best) if kind == 1 else best if kind == 2 else self.rng.choice(self.others)
        found = self.e.run(self.now)
        assert found is not None
        self.found = found
        self._from_here()

    def _shaken(self, sequences: Sequences) -> Sequences:
        for _ in range(_KICKS):
            new = self.moves.draw(sequences)
            if new is not None and self.e.run(new) is not None:
                sequences = new
        return sequences

    def _limit(self, slot: int) -> Limit:
        """What would be accepted, or be one of the best."""
        take = max(self._cost(self.found.value), self._cost(self.memory[slot]))
        keep = self.best[-1][0] if len(self.best) == self.count else math.inf
        return Limit(self.weight, take, LATE_SECOND, keep)

    def _cost(self, value: tuple[float, float]) -> float:
        return self.weight * value[0] + value[1]

    def _weigh(self) -> None:
        """Lateness weighs less where nothing is late, and more where something is."""
        least, most = _WEIGHTS
        self.weight = min(most, self.weight * _STEP) if self.found.late else max(least, self.weight / _STEP)

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
