"""The moves of the search: runs of like jobs are moved, split, swapped and pulled together."""

from __future__ import annotations

import itertools
import random

from scheduler.instance import Setting
from scheduler.solving.estimate import Estimator

Sequences = list[list[int]]


class Moves:
    """Draws moves of sequences. Nothing handed in is changed."""

    def __init__(self, estimator: Estimator, rng: random.Random) -> None:
        self.e, self.rng, self.work = estimator, rng, estimator.work
        self.now: Sequences = []

    def draw(self, now: Sequences) -> Sequences | None:
        """The sequences after one move; None where the one that was drawn comes to nothing."""
        self.now = now
        kind = self.rng.random()
        if kind < 0.4:
            return self._shift_run()
        if kind < 0.55:
            return self._swap_runs()
        if kind < 0.65:
            return self._pull_together()
        return self._dissolve() if kind < 0.75 else self._to_its_like()

    def _runs(self, press: int) -> list[tuple[int, int]]:
        jobs, task = self.now[press], self.work.jobs
        cuts = [0] + [i for i in range(1, len(jobs)) if task[jobs[i]].task != task[jobs[i - 1]].task] + [len(jobs)]
        return [(a, b) for a, b in itertools.pairwise(cuts) if a < b]

    def _busy_press(self) -> int:
        return self.rng.choice([p for p, jobs in enumerate(self.now) if jobs])

    def _shift_run(self) -> Sequences | None:
        """A run, or a part of it, goes elsewhere: most often beside its like or at the edge of another run."""
        source = self._busy_press()
        a, b = self.rng.choice(self._runs(source))
        if b - a > 1 and self.rng.random() < 0.5:
            length = self.rng.randint(1, b - a - 1)
            a, b = (a, a + length) if self.rng.random() < 0.5 else (b - length, b)
        moved = self.now[source][a:b]
        fits = self.e.fits[moved[0]]
        target = self.rng.choice(list(fits))
        new = [list(jobs) for jobs in self.now]
        del new[source][a:b]
        places = self._edges(new[target])
        place = self.rng.choice(places)
        if target == source and place == a:
            return None
        new[target][place:place] = moved
        return new

    def _edges(self, jobs: list[int]) -> list[int]:
        task = self.work.jobs
        return [0] + [i for i in range(1, len(jobs)) if task[jobs[i]].task != task[jobs[i - 1]].task] + [len(jobs)]

    def _swap_runs(self) -> Sequences | None:
        press = self._busy_press()
        runs = self._runs(press)
        if len(runs) < 2:
            return None
        i = self.rng.randrange(len(runs) - 1)
        j = i + 1 if self.rng.random() < 0.6 else self.rng.randrange(i + 1, len(runs))
        jobs = self.now[press]
        order = list(range(len(runs)))
        order[i], order[j] = order[j], order[i]
        new = [list(s) for s in self.now]
        new[press] = [job for k in order for job in jobs[runs[k][0] : runs[k][1]]]
        return new

    def _pull_together(self) -> Sequences | None:
        """All jobs of one task on a press move beside one another, or to the end of the setting they suit."""
        press = self._busy_press()
        task = self.work.jobs[self.rng.choice(self.now[press])].task
        mine = [j for j in self.now[press] if self.work.jobs[j].task == task]
        rest = [j for j in self.now[press] if self.work.jobs[j].task != task]
        targets = list(self.e.fits[mine[0]])
        target = press if self.rng.random() < 0.5 else self.rng.choice(targets)
        new = [list(s) for s in self.now]
        new[press] = rest
        place = self.rng.choice(self._edges(new[target]))
        new[target][place:place] = mine
        return new

    def _stretches(self, press: int) -> list[tuple[int, int, Setting]]:
        """What stands at one setting on a press: first place, the place after the last, and the setting."""
        chosen = self.e.settings.choose_kinds(press, [self.e.kinds[j][press] for j in self.now[press]])
        cuts = [0, *(i for i in range(1, len(chosen)) if chosen[i] != chosen[i - 1]), len(chosen)]
        return [(a, b, chosen[a]) for a, b in itertools.pairwise(cuts) if a < b]

    def _dissolve(self) -> Sequences | None:
        """A whole stretch at one setting is given to other stretches that suit it, run by run."""
        press = self._busy_press()
        stretches = self._stretches(press)
        if len(stretches) < 2 and len(self.now) < 2:
            return None
        chosen = self.rng.choice(stretches)
        runs = [(a, b) for a, b in self._runs(press) if chosen[0] <= a < chosen[1]]
        moved = [self.now[press][a : min(b, chosen[1])] for a, b in runs]
        hosts = [(p, s) for p in range(len(self.now)) for s in self._stretches(p) if (p, s) != (press, chosen)]
        inserts: dict[tuple[int, int], list[int]] = {}
        for run in moved:
            place = self._host(run, hosts)
            if place is None:
                return None
            inserts.setdefault(place, []).extend(run)
        return self._rebuilt({j for run in moved for j in run}, inserts)

    def _to_its_like(self) -> Sequences | None:
        """A run goes into another stretch whose setting suits it."""
        press = self._busy_press()
        a, b = self.rng.choice(self._runs(press))
        hosts = [(p, s) for p in range(len(self.now)) for s in self._stretches(p)]
        run = self.now[press][a:b]
        place = self._host(run, hosts)
        return None if place is None else self._rebuilt(set(run), {place: run})

    def _host(self, run: list[int], hosts: list[tuple[int, tuple[int, int, Setting]]]) -> tuple[int, int] | None:
        """A press and a place in one of the stretches that suit a run; None where none does."""
        fits = self.e.fits[run[0]]
        suits = [
            (p, a, b)
            for p, (a, b, (at, word)) in hosts
            if p in fits and fits[p].lo <= at <= fits[p].hi and word in fits[p].pressures
        ]
        if not suits:
            return None
        press, a, b = self.rng.choice(suits)
        return press, self.rng.choice([e for e in self._edges(self.now[press]) if a <= e <= b])

    def _rebuilt(self, moved: set[int], inserts: dict[tuple[int, int], list[int]]) -> Sequences:
        """The sequences without some jobs, which stand at other places of the old ones instead."""
        new: Sequences = []
        for press, jobs in enumerate(self.now):
            built: list[int] = []
            for place in range(len(jobs) + 1):
                built += inserts.get((press, place), ())
                if place < len(jobs) and jobs[place] not in moved:
                    built.append(jobs[place])
            new.append(built)
        return new
