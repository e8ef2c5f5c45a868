"""One way the lines of a day may go, cut into jobs, with what the search needs of it."""

from __future__ import annotations

import random
from dataclasses import dataclass

from scheduler.instance import Instance
from scheduler.solving.bundles import Work, cut
from scheduler.solving.estimate import Estimator
from scheduler.solving.incumbent import Incumbent, programme_of
from scheduler.solving.local import cost
from scheduler.solving.seed import seeds
from scheduler.solving.settings import Settings


@dataclass
class View:
    """One instance with its jobs and what the search needs of them."""

    instance: Instance
    work: Work
    settings: Settings
    estimator: Estimator
    sequences: list[list[int]]
    others: list[list[list[int]]]
    value: tuple[float, float, float] = (float("inf"), float("inf"), float("inf"))

    def offer(self, best: Incumbent, stage: str, sequences: list[list[int]]) -> None:
        """Play sequences; they become the view's own where they are better, and the estimate learns from them."""
        table = best.play(stage, self.instance, programme_of(self.settings, self.work, sequences))
        if table.value < self.value:
            self.value, self.sequences = table.value, sequences
            self.estimator.learn(sequences, table.order_finish)

    @classmethod
    def of(cls, instance: Instance, jobs: int) -> View:
        """Cut, and seed: the sweep's sequences, the best by the rough estimate first."""
        work, settings = cut(instance, jobs), Settings(instance)
        estimator = Estimator(instance, work, settings)
        swept = []
        for sequences in seeds(instance, work, settings, estimator):
            found = estimator.run(sequences)
            if found is not None:
                swept.append((cost(found), sequences))
        swept.sort(key=lambda s: s[0])
        return cls(instance, work, settings, estimator, swept[0][1], [sequences for _, sequences in swept[1:]])


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
