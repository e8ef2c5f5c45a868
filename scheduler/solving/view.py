"""One way the lines of a day may go, cut into jobs, with what the search needs of it."""

from __future__ import annotations

import random
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

from scheduler.instance import Instance
from scheduler.solving.bundles import Place, Work, cut, jobs_at
from scheduler.solving.estimate import Estimator
from scheduler.solving.incumbent import Incumbent, programme_of
from scheduler.solving.local import cost, start_cost
from scheduler.solving.paces import Rhythms
from scheduler.solving.rough import Estimate
from scheduler.solving.seed import seeds
from scheduler.solving.settings import Settings
from scheduler.timetable.record import Timetable

_MANY = 100  # jobs: of so many some are always late

Operation = tuple[int, str, int]  # line, placement, number


@dataclass
class View:
    """One instance with its jobs and what the search needs of them."""

    instance: Instance
    work: Work
    settings: Settings
    estimator: Estimator
    sequences: list[list[int]]
    first: list[list[list[int]]]  # first plans, the best by the rough estimate first
    starts: list[list[list[int]]]  # the same, the best to begin a search at first
    value: tuple[float, float, float] = (float("inf"), float("inf"), float("inf"))

    @property
    def many(self) -> bool:
        """Whether there are many jobs."""
        return many(self.work)

    @property
    def loads(self) -> int:
        """How many loadings of a single piece there are."""
        return self.instance.loads

    def guess(self, sequences: list[list[int]]) -> Estimate:
        """What sequences in which no job waits for ever come to by the rough estimate."""
        guess = self.estimator.run(sequences)
        assert guess is not None
        return guess

    def placed(self, places: Mapping[Operation, Sequence[Place]]) -> list[list[int]] | None:
        """The sequences in which each operation's pieces go to its places, or to another press where they may not; None
        where they would wait for each other for ever."""
        mine: dict[int, list[Place]] = {}
        for task in self.instance.tasks:
            key = task.line, task.placement, task.steps[0].operation.number
            if key in places:
                mine[task.index] = [
                    place if place.press in task.fits else replace(place, press=min(task.fits)) for place in places[key]
                ]
        sequences = jobs_at(self.work, len(self.instance.presses), mine)
        return sequences if self.estimator.run(sequences) is not None else None

    def retold(self, table: Timetable) -> list[list[int]] | None:
        """A timetable as jobs: each goes where the first of its pieces went, in the order of those loadings. None where
        jobs cut so would wait for each other for ever."""
        places: dict[Operation, list[Place]] = defaultdict(list)
        for loading in sorted(table.loadings, key=lambda x: x.start):
            task = loading.script.task
            for step in task.steps:
                place = Place(loading.start, loading.press, len(loading.pieces))
                places[task.line, task.placement, step.operation.number].append(place)
        return self.placed(places)

    def play(self, best: Incumbent, stage: str, sequences: list[list[int]], alone: bool = False) -> Timetable:
        """Play sequences; they become the view's own where they are better. `alone`: in one manner of serving, unless
        they are the best yet."""
        table = best.play(stage, self.instance, programme_of(self.settings, self.work, sequences), alone)
        if table.value < self.value:
            self.value, self.sequences = table.value, sequences
        return table

    def admit(self, more: Iterable[list[list[int]]]) -> None:
        """Take further sequences among those to begin a search at."""
        known = [*more, *self.starts]
        self.starts = [sequences for _, sequences in _worth(self.estimator, known, start_cost)]

    @classmethod
    def at(
        cls, instance: Instance, jobs: int, rhythms: Rhythms, places: Mapping[Operation, Sequence[Place]]
    ) -> View | None:
        """Cut, and begin with each operation's pieces in its places (`placed`); None where they would wait for each
        other for ever."""
        work, settings = cut(instance, jobs), Settings(instance)
        view = cls(instance, work, settings, Estimator(instance, work, settings, rhythms), [], [], [])
        sequences = view.placed(places)
        if sequences is None:
            return None
        view.sequences, view.first, view.starts = sequences, [sequences], [sequences]
        return view

    @classmethod
    def of(cls, instance: Instance, jobs: int, rhythms: Rhythms | None = None) -> View:
        """Cut, and seed: the sweep's sequences, the best by the rough estimate first.

        `rhythms`: those known already.
        """
        work, settings = cut(instance, jobs), Settings(instance)
        estimator = Estimator(instance, work, settings, rhythms)
        swept = _worth(estimator, seeds(instance, work, settings, estimator))
        swept = sorted(swept + _worth(estimator, _by_heat(estimator, swept[0][1])), key=lambda s: s[0])
        first = [sequences for _, sequences in swept]
        starts = [sequences for _, sequences in _worth(estimator, first, start_cost)]
        return cls(instance, work, settings, estimator, first[0], first, starts)


def many(work: Work) -> bool:
    """Whether there are many jobs."""
    return len(work.jobs) > _MANY


def _worth(
    estimator: Estimator, many: Iterable[list[list[int]]], of: Callable[[Estimate], float] = cost
) -> list[tuple[float, list[list[int]]]]:
    """Sequences that can be run with what they cost, the cheapest first."""
    found = [(of(guess), sequences) for sequences in many if (guess := estimator.run(sequences)) is not None]
    return sorted(found, key=lambda s: s[0])


def _by_heat(estimator: Estimator, sequences: list[list[int]]) -> Iterator[list[list[int]]]:
    """Each press's jobs from the coldest to the hottest, and the other way round.

    Without due times no way on a line is shorter than to one end and then to the other.
    """
    for sign in (1, -1):
        yield [
            sorted(jobs, key=lambda j, press=press: sign * estimator.fits[j][press].lo)  # type: ignore[misc]
            for press, jobs in enumerate(sequences)
        ]


def shaken(view: View, sequences: list[list[int]], rng: random.Random, kicks: int = 6) -> list[list[int]]:
    """The sequences after a few moves taken whatever they cost, so that a search can start elsewhere."""
    new = [list(jobs) for jobs in sequences]
    for _ in range(kicks):
        source = rng.choice([p for p, jobs in enumerate(new) if jobs])
        job = rng.choice(new[source])
        task = view.work.jobs[job].task
        mine = [j for j in new[source] if view.work.jobs[j].task == task]
        target = rng.choice(list(view.estimator.fits[job]))
        trial = [list(jobs) for jobs in new]
        trial[source] = [j for j in trial[source] if j not in mine]
        place = rng.randint(0, len(trial[target]))
        trial[target][place:place] = mine
        if view.estimator.run(trial) is not None:
            new = trial
    return new
