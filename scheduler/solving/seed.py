"""A good plan at once: dispatching by an index of urgency and set-up, swept over its two weights.

The press that is free first takes the job with the highest index
    (weight / p) exp(-max(0, due - p - now) / (k1 p_mean)) exp(-set-up / (k2 s_mean)),
the apparent tardiness cost with set-ups of Lee, Bhaskaran and Pinedo (1997, IIE Transactions 29).
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from scheduler.instance import Instance, PressFit, Setting
from scheduler.solving.bundles import Job, Work
from scheduler.solving.estimate import Estimator, forward
from scheduler.solving.settings import Settings

LOOKAHEAD = (0.1, 0.4, 1.0, 3.0, 10.0)  # k1: how far ahead a due time is felt
SETUP = (0.02, 0.2, 1.0)  # k2: how little a change of setting is shunned

SHUN = (0.0, 0.3, 1.0, 3.0)  # how much a change of setting is shunned in a list by due time

_NO_DUE = 1e-3  # the weight of an order without a due time


def seeds(instance: Instance, work: Work, settings: Settings, estimator: Estimator) -> Iterator[list[list[int]]]:
    """Sequences of jobs for each press: the index for each pair of weights, then the lists by due time."""
    for k1 in LOOKAHEAD:
        for k2 in SETUP:
            yield _Rule(instance, work, settings, estimator, k1, k2).run()
    for shun in SHUN:
        yield _Rule(instance, work, settings, estimator, 1.0, 1.0).by_due(shun)


def fit_suits(fit: PressFit, setting: Setting) -> bool:
    """Whether work that fits a press so may be run at a setting."""
    return fit.lo <= setting[0] <= fit.hi and setting[1] in fit.pressures


class _Rule:
    def __init__(
        self, instance: Instance, work: Work, settings: Settings, estimator: Estimator, k1: float, k2: float
    ) -> None:
        self.instance, self.work, self.settings, self.e = instance, work, settings, estimator
        self.k1, self.k2 = k1, k2
        count = len(instance.presses)
        self.free = [max([side.stands.free, *side.stands.lying]) for side in instance.presses]
        self.setting: list[Setting | None] = [side.stands.setting for side in instance.presses]
        self.sequences: list[list[int]] = [[] for _ in range(count)]
        self.starts = [-1] * len(work.jobs)
        self.ends = [-1] * len(work.jobs)
        times = [min(c[0] for c in cycles.values()) for cycles in estimator.cycle]
        self.mean = max(1.0, sum(times) / max(1, len(times)))
        self.rest = self._rests(times)
        self.suits = {
            (task.index, press): tuple(s for s in settings.candidates(press) if fit_suits(fit, s))
            for task in instance.tasks
            for press, fit in task.fits.items()
        }
        self.asked = self._demand()
        self._setups: dict[tuple[int, Setting, int], float] = {}

    def _rests(self, times: list[int]) -> list[int]:
        """Seconds from a job's start to its bundle's end."""
        rest = list(times)
        for job in reversed(self.work.jobs):
            if job.before >= 0:
                rest[job.before] += rest[job.index]
        return rest

    def _demand(self) -> list[dict[Setting, int]]:
        """For each press, the seconds of work left that each setting would suit."""
        asked: list[dict[Setting, int]] = [
            dict.fromkeys(self.settings.candidates(p.index), 0) for p in self.instance.presses
        ]
        for job, cycles in zip(self.work.jobs, self.e.cycle, strict=True):
            for press, cycle in cycles.items():
                for s in self.suits[job.task, press]:
                    asked[press][s] += cycle[0]
        return asked

    def run(self) -> list[list[int]]:
        open_jobs = {job.index for job in self.work.jobs if job.before < 0}
        after = {job.before: job.index for job in self.work.jobs if job.before >= 0}
        while open_jobs:
            press, job = self._pick(open_jobs)
            self._take(press, job)
            open_jobs.remove(job)
            if job in after:
                open_jobs.add(after[job])
        return self.sequences

    def by_due(self, shun: float) -> list[list[int]]:
        """Orders by due time among those whose blanks are there (Schrage's list), each job where it ends first."""
        instance = self.instance
        far = 1 << 40
        waiting: dict[int, list[Job]] = {}
        for job in self.work.jobs:
            waiting.setdefault(instance.tasks[job.task].line, []).append(job)

        def urgency(line: int) -> tuple[int, float, int]:
            order = instance.order_of[line]
            due = instance.due[order]
            return (far if due is None else due, -instance.priority[order], line)

        while waiting:
            now = max(min(self.free), min(instance.ready[line] for line in waiting))
            line = min((line for line in waiting if instance.ready[line] <= now), key=urgency)
            for job in waiting.pop(line):
                presses = self.e.cycle[job.index]
                ends = {p: self._end(p, job.index) + shun * self._cost(p, job) for p in presses}
                self._take(min(ends, key=lambda p: (ends[p], p)), job.index)
        return self.sequences

    def _cost(self, press: int, job: Job) -> float:
        setting = self.setting[press]
        return 0.0 if setting is None else self._setup(press, setting, job.task)

    def _end(self, press: int, job: int) -> int:
        """About when a job would end on a press that takes it next."""
        item, setting = self.work.jobs[job], self.setting[press]
        change = 0 if setting is None else int(self._setup(press, setting, item.task) > 0) * 120
        before = item.before
        ready = self.e.ready[job] if before < 0 else self.starts[before] + self.e.first_piece[before]
        end = max(self.free[press] + change, ready) + self.e.cycle[job][press][0]
        return end if before < 0 else max(end, self.ends[before] + self.e.cycle[job][press][2])

    def _pick(self, open_jobs: set[int]) -> tuple[int, int]:
        for press in sorted(range(len(self.free)), key=lambda p: (self.free[p], p)):
            best = max(
                ((self._index(press, job), -job) for job in open_jobs if press in self.e.cycle[job]), default=None
            )
            if best is not None:
                return press, -best[1]
        raise AssertionError("a job that no press takes was not refused before")

    def _index(self, press: int, job: int) -> float:
        instance, item = self.instance, self.work.jobs[job]
        line = instance.tasks[item.task].line
        order = instance.order_of[line]
        seconds = self.e.cycle[job][press][0]
        ready = instance.ready[line] if item.before < 0 else self.starts[item.before] + self.e.first_piece[item.before]
        now = max(self.free[press], ready)
        setting = self.setting[press]
        setup = 0.0 if setting is None else self._setup(press, setting, item.task)
        due = instance.due[order]
        weight = _NO_DUE if due is None else instance.priority[order]
        slack = 0.0 if due is None else max(0.0, due - self.rest[job] - now)
        waiting = (now - self.free[press]) / self.mean
        return (
            math.log(weight)
            - math.log(seconds + 1)
            - slack / (self.k1 * self.mean)
            - setup / (self.k2 * self.mean)
            - 4 * waiting
            + (0.0 if due is not None else self.rest[job] / self.mean * 1e-3)
        )

    def _setup(self, press: int, setting: Setting, task: int) -> float:
        """The least a change to something that suits the task would cost; 0 where none is needed."""
        key = (press, setting, task)
        if key not in self._setups:
            self._setups[key] = min(self.settings.change_cost(press, setting, s) for s in self.suits[task, press])
        return self._setups[key]

    def _new_setting(self, press: int, task: int) -> Setting:
        now, asked = self.setting[press], self.asked[press]
        return max(
            self.suits[task, press],
            key=lambda s: (asked[s] - (self.settings.change_cost(press, now, s) if now else 0.0), -s[0]),
        )

    def _take(self, press: int, job: int) -> None:
        item = self.work.jobs[job]
        setting = self.setting[press]
        if setting is None or setting not in self.suits[item.task, press]:
            new = self._new_setting(press, item.task)
            shown = self.instance.presses[press].at_start
            self.free[press] += (
                self.instance.warm_up(press, shown, new)
                if setting is None
                else self.instance.set_seconds(press, setting, new)
            )
            self.setting[press] = new
        for other, cycle in self.e.cycle[job].items():
            for s in self.suits[item.task, other]:
                self.asked[other][s] -= cycle[0]
        line = self.instance.tasks[item.task].line
        ready = (
            self.instance.ready[line] if item.before < 0 else self.starts[item.before] + self.e.first_piece[item.before]
        )
        start = max(self.free[press], ready)
        _, end = forward(self.instance.presses[press].windows, start, self.e.cycle[job][press][0])
        if item.before >= 0:
            end = max(end, self.ends[item.before] + self.e.cycle[job][press][2])
        self.starts[job], self.ends[job], self.free[press] = start, end, end
        self.sequences[press].append(job)
