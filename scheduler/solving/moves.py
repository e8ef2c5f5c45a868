"""The moves of the search: runs of like jobs, and stretches at one setting, are moved, split, swapped and merged."""

from __future__ import annotations

import itertools
import random
from collections.abc import Callable, Sequence
from typing import NamedTuple

from scheduler.instance import PressFit
from scheduler.solving.estimate import Estimator

Sequences = list[list[int]]


class Stretch(NamedTuple):
    """What stands at one setting on a press: its first place, the place after its last, and which settings suit all
    of it: degrees from `low` to `high`, and the words of `pressures`."""

    press: int
    first: int
    end: int
    low: int
    high: int
    pressures: frozenset[str]

    def takes(self, fits: Sequence[PressFit | None]) -> bool:
        """Whether one setting suits all of the stretch and all of what fits its press so; None does not fit it."""
        low, high, pressures = self.low, self.high, self.pressures
        for fit in fits:
            if fit is None:
                return False
            low, high = max(low, fit.lo), min(high, fit.hi)
            pressures = pressures.intersection(fit.pressures)
        return low <= high and bool(pressures)


class Moves:
    """Draws moves of sequences. Nothing handed in is changed."""

    def __init__(self, estimator: Estimator, rng: random.Random) -> None:
        self.e, self.rng, self.work = estimator, rng, estimator.work
        self.now: Sequences = []
        self.seen: dict[int, list[Stretch]] = {}  # the stretches of its presses
        often: dict[Callable[[], Sequences | None], int] = {
            self._shift_run: 25,
            self._swap_runs: 9,
            self._pull_together: 6,
            self._dissolve: 8,
            self._to_its_like: 18,
            self._shift_stretch: 8,
            self._swap_tails: 12,
            self._merge: 14,
        }
        self.kinds, self.often = list(often), list(itertools.accumulate(often.values()))

    def draw(self, now: Sequences) -> Sequences | None:
        """The sequences after one move; None where the one that was drawn comes to nothing."""
        if now is not self.now:
            self.now = now
            self.seen.clear()
        (kind,) = self.rng.choices(self.kinds, cum_weights=self.often)
        return kind()

    def _runs(self, press: int) -> list[tuple[int, int]]:
        return [(a, b) for a, b in itertools.pairwise(self._edges(self.now[press])) if a < b]

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

    def _stretches(self, press: int) -> list[Stretch]:
        if press not in self.seen:
            self.seen[press] = self._stretches_of(press)
        return self.seen[press]

    def _stretches_of(self, press: int) -> list[Stretch]:
        chosen = self.e.settings.choose_kinds(press, [self.e.kinds[j][press] for j in self.now[press]])
        cuts = [0, *(i for i in range(1, len(chosen)) if chosen[i] != chosen[i - 1]), len(chosen)]
        return [self._stretch(press, a, b) for a, b in itertools.pairwise(cuts) if a < b]

    def _stretch(self, press: int, first: int, end: int) -> Stretch:
        fits = [self.e.fits[j][press] for j in self.now[press][first:end]]
        words = frozenset(fits[0].pressures).intersection(*(fit.pressures for fit in fits[1:]))
        return Stretch(press, first, end, max(fit.lo for fit in fits), min(fit.hi for fit in fits), words)

    def _all_stretches(self) -> list[Stretch]:
        return [stretch for press in range(len(self.now)) for stretch in self._stretches(press)]

    def _hosts(self, jobs: list[int], hosts: list[Stretch]) -> list[Stretch]:
        """The stretches that all of the jobs may join at one setting."""
        return [host for host in hosts if host.takes([self.e.fits[j].get(host.press) for j in jobs])]

    def _dissolve(self) -> Sequences | None:
        """A whole stretch at one setting is given to other stretches that may take it, run by run."""
        gone = self.rng.choice(self._stretches(self._busy_press()))
        hosts = [stretch for stretch in self._all_stretches() if stretch != gone]
        inserts: dict[tuple[int, int], list[int]] = {}
        for a, b in self._runs(gone.press):
            if gone.first <= a < gone.end:
                run = self.now[gone.press][a:b]
                place = self._inside(run, hosts)
                if place is None:
                    return None
                inserts.setdefault(place, []).extend(run)
        return self._rebuilt({job for run in inserts.values() for job in run}, inserts)

    def _to_its_like(self) -> Sequences | None:
        """A run goes into a stretch that may take it."""
        press = self._busy_press()
        a, b = self.rng.choice(self._runs(press))
        run = self.now[press][a:b]
        place = self._inside(run, self._all_stretches())
        return None if place is None else self._rebuilt(set(run), {place: run})

    def _inside(self, run: list[int], hosts: list[Stretch]) -> tuple[int, int] | None:
        """A press and a place in one of the stretches that may take a run; None where none may."""
        able = self._hosts(run[:1], hosts)
        if not able:
            return None
        host = self.rng.choice(able)
        places = [place for place in self._edges(self.now[host.press]) if host.first <= place <= host.end]
        return host.press, self.rng.choice(places)

    def _merge(self) -> Sequences | None:
        """A stretch as it is goes before or behind another that may take all of it."""
        moved = self.rng.choice(self._stretches(self._busy_press()))
        jobs = self.now[moved.press][moved.first : moved.end]
        able = self._hosts(jobs, [stretch for stretch in self._all_stretches() if stretch != moved])
        if not able:
            return None
        host = self.rng.choice(able)
        place = host.first if self.rng.random() < 0.5 else host.end
        return self._rebuilt(set(jobs), {(host.press, place): jobs})

    def _shift_stretch(self) -> Sequences | None:
        """A stretch as it is goes elsewhere, most often between two others."""
        moved = self.rng.choice(self._stretches(self._busy_press()))
        jobs = self.now[moved.press][moved.first : moved.end]
        target = self.rng.choice([p for p in range(len(self.now)) if all(p in self.e.fits[j] for j in jobs)])
        place = self._place(target, 0.7)
        if target == moved.press and moved.first <= place <= moved.end:
            return None
        return self._rebuilt(set(jobs), {(target, place): jobs})

    def _swap_tails(self) -> Sequences | None:
        """Two presses change what they do from some place on."""
        if len(self.now) < 2:
            return None
        one, other = self.rng.sample(range(len(self.now)), 2)
        a, b = self._place(one, 0.5), self._place(other, 0.5)
        mine, theirs = self.now[one][a:], self.now[other][b:]
        if not all(other in self.e.fits[j] for j in mine) or not all(one in self.e.fits[j] for j in theirs):
            return None
        new = list(self.now)
        new[one], new[other] = self.now[one][:a] + theirs, self.now[other][:b] + mine
        return new

    def _place(self, press: int, outside: float) -> int:
        """A place at the edge of a run; so often at an end of the press's stretches or between two."""
        if self.rng.random() < outside:
            return self.rng.choice([0, *(stretch.end for stretch in self._stretches(press))])
        return self.rng.choice(self._edges(self.now[press]))

    def _rebuilt(self, moved: set[int], inserts: dict[tuple[int, int], list[int]]) -> Sequences:
        """The sequences without some jobs, which stand at other places of the old ones instead."""
        new: Sequences = []
        for press, jobs in enumerate(self.now):
            places = sorted(place for on, place in inserts if on == press)
            built, done = [], 0
            for place in places:
                built += [job for job in jobs[done:place] if job not in moved] + inserts[press, place]
                done = place
            new.append(built + [job for job in jobs[done:] if job not in moved])
        return new
