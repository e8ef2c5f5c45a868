"""New lines among what is planned: where in the presses' sequences they do what is asked of them.

Every answer is a whole timetable, dispatched as a plan is. Places are ranked by the rough estimate, the best of them
and what a short local search makes of them are played. All is counted, so that the same question has the same answer.
"""

from __future__ import annotations

import itertools
import random
from collections import defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from models.order import OrderLine
from scheduler.estimating.goals import Goal, Value, done_of, limits_of
from scheduler.estimating.today import Today
from scheduler.instance import Chain, Instance
from scheduler.solving.bundles import Job, Place, Work, cut, jobs_at
from scheduler.solving.estimate import Estimator
from scheduler.solving.incumbent import programme_of
from scheduler.solving.local import cost, search
from scheduler.solving.moves import Sequences
from scheduler.solving.settings import Settings
from scheduler.timetable.dispatch import dispatch
from scheduler.timetable.manner import MANNERS, Manner
from scheduler.timetable.record import Timetable

JOBS = 80  # grain of the sequences
MOVES = 300  # of the local search
ROUNDS = 3  # of ranking places and playing the best of them
PLAYED = 2  # places that are played in a round
_WAYS = 12  # ways to spread a line's stages over presses that are tried


@dataclass(frozen=True)
class Placed:
    """A whole timetable with the new lines in it. `finish` by order and `done`, of the new lines, in seconds.

    `kept`: no order is later than its promise, or than it is today where that is later.
    """

    table: Timetable
    instance: Instance
    finish: Mapping[str, int]
    done: int
    kept: bool
    sequences: Sequences
    manner: Manner


@dataclass(frozen=True)
class Asked:
    """New lines, each with the chain it goes by, and the day they are asked of."""

    today: Today
    more: tuple[OrderLine, ...]
    chains: tuple[Chain, ...]


def place(
    asked: Asked,
    goal: Goal,
    ready: datetime | None = None,
    rounds: int = ROUNDS,
    played: int = PLAYED,
    moves: int = MOVES,
    start: Placed | None = None,
) -> Placed:
    """The best timetable found for a goal. `ready`: when the new lines' blanks come; `start`: where to begin.

    `rounds` of ranking places and playing the best `played` of them, then a local search of so many `moves`.
    """
    return _Search(asked, goal, ready, start).run(rounds, played, moves)


class _Search:
    def __init__(self, asked: Asked, goal: Goal, ready: datetime | None, start: Placed | None) -> None:
        self.asked, self.goal, today = asked, goal, asked.today
        self.instance = today.instance(goal.lines(today, asked.more, ready), asked.chains)
        self.work, self.settings = cut(self.instance, JOBS), Settings(self.instance)
        self.estimator = Estimator(self.instance, self.work, self.settings)
        self.old = _as_planned(today, self.instance, self.work)
        self.fresh: list[list[list[Job]]] = [
            [[job for job in self.work.jobs if job.task == task.index] for task in self.instance.stages[line]]
            for line in range(today.count, len(self.instance.lines))
        ]
        self.best: Timetable | None = None
        self.value: Value = ()
        self.sequences: Sequences = self.old
        self.manner = start.manner if start else MANNERS[0]
        self.seen: list[Sequences] = []
        if start and ready is None:  # a timetable is one whatever is asked of it
            self._offer(start.table, start.sequences, start.manner)
            self._learn()
        elif start:
            self._play(start.sequences, start.manner)
            self._learn()

    def run(self, rounds: int, played: int, moves: int) -> Placed:
        """Rank, play the best, let the estimate learn from it, and again; then a local search from the best."""
        for number in range(rounds):
            if self._enough() or (number > 1 and not self._short()):
                break
            self._round(played)
        if self._short() and moves:
            self._other_manners()
        if moves and not self._enough():
            self._play(search(self.estimator, self.sequences, moves, random.Random(0)), self.manner)
        return self._placed()

    def _short(self) -> bool:
        """Whether something fails or a promise suffers that should not."""
        return bool(self.value[0]) or (self.goal.aim in ("kept", "by") and bool(self.value[1]))

    def _enough(self) -> bool:
        """Whether nothing better is asked for."""
        return self.goal.aim == "by" and self.best is not None and not self._short()

    def _round(self, played: int) -> None:
        ranked = sorted(self._inserted(), key=lambda found: found[0])
        for sequences in self._spread(ranked, played):
            self._play(sequences, self.manner)
        self._learn()

    def _learn(self) -> None:
        assert self.best is not None
        self.estimator.learn(self.sequences, self.best)

    def _other_manners(self) -> None:
        """Whether another manner of serving does better by the best sequences."""
        first, sequences = self.manner, self.sequences
        for other in MANNERS:
            if other != first and not self._enough():
                self._play(sequences, other)

    def _play(self, sequences: Sequences, manner: Manner) -> None:
        table = dispatch(self.instance, programme_of(self.settings, self.work, sequences), manner)
        self._offer(table, sequences, manner)

    def _offer(self, table: Timetable, sequences: Sequences, manner: Manner) -> None:
        self.seen.append(sequences)
        finish = dict(zip(self.instance.order_ids, table.order_finish, strict=True))
        value = self.goal.value(self.asked.today, self.asked.more, table, finish)
        if self.best is None or value < self.value:
            self.best, self.value, self.sequences, self.manner = table, value, sequences, manner

    def _spread(self, ranked: Sequence[tuple[float, Sequences]], count: int) -> list[Sequences]:
        """The best few that were not played yet, no two of the same cost: those are most often the same plan."""
        found: list[tuple[float, Sequences]] = []
        for value, sequences in ranked:
            if sequences not in self.seen and not any(abs(value - other) < 1 for other, _ in found):
                found.append((value, sequences))
            if len(found) == count:
                break
        return [sequences for _, sequences in found]

    def _placed(self) -> Placed:
        table, instance, today = self.best, self.instance, self.asked.today
        assert table is not None
        finish = dict(zip(instance.order_ids, table.order_finish, strict=True))
        kept = not table.unplaced and not table.broken
        kept = kept and all(finish[order] <= limit for order, limit in limits_of(today).items())
        return Placed(table, instance, finish, done_of(self.asked.more, finish), kept, self.sequences, self.manner)

    def _inserted(self) -> Iterator[tuple[float, Sequences]]:
        """Today's sequences with the new lines at every sensible place; of several lines each at its best in turn."""
        base = self.old
        for number, stages in enumerate(self.fresh):
            found = list(self._places(base, stages))
            if number == len(self.fresh) - 1:
                yield from found
            elif found:
                base = min(found, key=lambda f: f[0])[1]

    def _places(self, base: Sequences, stages: Sequence[Sequence[Job]]) -> Iterator[tuple[float, Sequences]]:
        ways = itertools.islice(itertools.product(*(sorted(self.estimator.fits[jobs[0].index]) for jobs in stages)), 64)
        for way in sorted(ways, key=lambda w: (len(set(w)), w))[:_WAYS]:
            guess = self.estimator.run(base) if any(base) else None
            for edge in self._edges(base[way[0]]):
                sequences = [list(jobs) for jobs in base]
                starts = guess.starts if guess else ()
                at = starts[base[way[0]][edge]] if edge < len(base[way[0]]) else None
                self._insert(sequences, stages, way, edge, at, starts)
                estimate = self.estimator.run(sequences)
                if estimate is not None:
                    yield cost(estimate), sequences

    def _insert(
        self,
        sequences: Sequences,
        stages: Sequence[Sequence[Job]],
        way: Sequence[int],
        edge: int,
        at: int | None,
        starts: Sequence[int],
    ) -> None:
        """The stages one after another: on the first press at the edge, on others at that time."""
        place = {way[0]: edge}
        for jobs, press in zip(stages, way, strict=True):
            if press not in place:
                later = [n for n in self._edges(sequences[press]) if n == len(sequences[press])]
                if at is not None:
                    later = [
                        n
                        for n in self._edges(sequences[press])
                        if n == len(sequences[press]) or starts[sequences[press][n]] >= at
                    ]
                place[press] = later[0]
            sequences[press][place[press] : place[press]] = [job.index for job in jobs]
            place[press] += len(jobs)

    def _edges(self, jobs: Sequence[int]) -> list[int]:
        task = self.work.jobs
        inner = [n for n in range(1, len(jobs)) if task[jobs[n]].task != task[jobs[n - 1]].task]
        return list(dict.fromkeys([0, *inner, len(jobs)]))


def _as_planned(today: Today, instance: Instance, work: Work) -> Sequences:
    """The jobs of today's lines in the order in which the plan lays their pieces."""
    places: dict[int, list[Place]] = defaultdict(list)
    for loading in sorted(today.laid, key=lambda laid: laid.start):
        task = instance.stages[loading.line][loading.stage].index
        places[task].append(Place(loading.start, loading.press, loading.pieces))
    return jobs_at(work, len(instance.presses), places)
