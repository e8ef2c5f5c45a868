"""A good plan at once: dispatching by an index of urgency and set-up, swept over its two weights.

The press that is free first takes the job with the highest index
    (weight / p) exp(-max(0, due - p - now) / (k1 p_mean)) exp(-set-up / (k2 s_mean)),
the apparent tardiness cost with set-ups of Lee, Bhaskaran and Pinedo (1997, IIE Transactions 29).
"""

from __future__ import annotations

import math
from collections.abc import Iterator

from scheduler.calendar import Spans
from scheduler.instance import Instance, PressFit, Setting
from scheduler.solving.bundles import Job, Work
from scheduler.solving.estimate import Estimator
from scheduler.solving.settings import Settings

LOOKAHEAD = (0.1, 0.4, 1.0, 3.0, 10.0)  # k1: how far ahead a due time is felt
SETUP = (0.02, 0.2, 1.0)  # k2: how little a change of setting is shunned

SHUN = (0.0, 0.3, 1.0, 3.0)  # how much a change of setting is shunned in a list by due time

_NO_DUE = 1e-3  # the weight of an order without a due time


def seeds(instance: Instance, work: Work, settings: Settings, estimator: Estimator) -> Iterator[list[list[int]]]:
    """Sequences of jobs for each press: the index for each pair of weights, then the lists by due time."""
    facts = _Facts(instance, work, settings, estimator)
    for k1 in LOOKAHEAD:
        for k2 in SETUP:
            yield _Rule(facts, k1, k2).run()
    for shun in SHUN:
        yield _Rule(facts, 1.0, 1.0).by_due(shun)


def fit_suits(fit: PressFit, setting: Setting) -> bool:
    """Whether work that fits a press so may be run at a setting."""
    return fit.lo <= setting[0] <= fit.hi and setting[1] in fit.pressures


class _Facts:
    """What the rule asks of a day, whatever its weights; lists are by job."""

    def __init__(self, instance: Instance, work: Work, settings: Settings, estimator: Estimator) -> None:
        self.instance, self.work, self.settings, self.e = instance, work, settings, estimator
        times = [min(c[0] for c in cycles.values()) for cycles in estimator.cycle]
        self.mean = max(1.0, sum(times) / max(1, len(times)))
        self.rest = self._rests(times)
        self.suits = {
            (task.index, press): tuple(s for s in settings.candidates(press) if fit_suits(fit, s))
            for task in instance.tasks
            for press, fit in task.fits.items()
        }
        self.asked = self._demand()
        self.after = {job.before: job.index for job in work.jobs if job.before >= 0}
        self.tasks = [job.task for job in work.jobs]
        orders = [instance.order_of[instance.tasks[task].line] for task in self.tasks]
        dues = [instance.due[order] for order in orders]
        weights = [
            _NO_DUE if due is None else instance.priority[order] for order, due in zip(orders, dues, strict=True)
        ]
        # log(weight / p) on each press that takes the job
        self.worth = [
            {press: math.log(weight) - math.log(cycle[0] + 1) for press, cycle in cycles.items()}
            for weight, cycles in zip(weights, estimator.cycle, strict=True)
        ]
        # when it must have begun, None without a due time; then the longest bundles go first
        self.latest = [None if due is None else due - rest for due, rest in zip(dues, self.rest, strict=True)]
        self.longest = [
            0.0 if due is not None else rest / self.mean * 1e-3 for due, rest in zip(dues, self.rest, strict=True)
        ]
        self._setups: dict[tuple[int, Setting], dict[int, float]] = {}

    def _rests(self, times: list[int]) -> list[int]:
        """Seconds from a job's start to its bundle's end."""
        rest = list(times)
        for job in reversed(self.work.jobs):
            if job.before >= 0:
                rest[job.before] += rest[job.index]
        return rest

    def _demand(self) -> list[dict[Setting, int]]:
        """For each press, the seconds of work that each setting would suit."""
        asked: list[dict[Setting, int]] = [
            dict.fromkeys(self.settings.candidates(p.index), 0) for p in self.instance.presses
        ]
        for job, cycles in zip(self.work.jobs, self.e.cycle, strict=True):
            for press, cycle in cycles.items():
                for s in self.suits[job.task, press]:
                    asked[press][s] += cycle[0]
        return asked

    def setups(self, press: int, setting: Setting) -> dict[int, float]:
        """The least a change to something that suits each task a press takes would cost; 0 where none is needed."""
        key = (press, setting)
        if key not in self._setups:
            costs = {s: self.settings.change_cost(press, setting, s) for s in self.settings.candidates(press)}
            self._setups[key] = {
                task: min(costs[s] for s in suits) for (task, on), suits in self.suits.items() if on == press
            }
        return self._setups[key]


class _Rule:
    """One run of the rule. `ready`: when each job that may be taken could start."""

    def __init__(self, facts: _Facts, k1: float, k2: float) -> None:
        self.facts, self.instance, self.work = facts, facts.instance, facts.work
        self.settings, self.e = facts.settings, facts.e
        self.k1, self.k2 = k1, k2
        self.free = [max([side.stands.free, *side.stands.lying]) for side in self.instance.presses]
        self.setting: list[Setting | None] = [side.stands.setting for side in self.instance.presses]
        self.sequences: list[list[int]] = [[] for _ in self.instance.presses]
        self.starts = [-1] * len(self.work.jobs)
        self.ends = [-1] * len(self.work.jobs)
        self.ready = list(self.e.ready)
        self.asked = [dict(asked) for asked in facts.asked]

    def run(self) -> list[list[int]]:
        open_jobs = {job.index for job in self.work.jobs if job.before < 0}
        after = self.facts.after
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
        return 0.0 if setting is None else self.facts.setups(press, setting)[job.task]

    def _end(self, press: int, job: int) -> int:
        """About when a job would end on a press that takes it next."""
        item, setting = self.work.jobs[job], self.setting[press]
        change = 0 if setting is None else int(self.facts.setups(press, setting)[item.task] > 0) * 120
        before = item.before
        end = max(self.free[press] + change, self.ready[job]) + self.e.cycle[job][press][0]
        return end if before < 0 else max(end, self.ends[before] + self.e.cycle[job][press][2])

    def _pick(self, open_jobs: set[int]) -> tuple[int, int]:
        for press in sorted(range(len(self.free)), key=self.free.__getitem__):
            job = self._best(press, open_jobs)
            if job is not None:
                return press, job
        raise AssertionError("a job that no press takes was not refused before")

    def _best(self, press: int, open_jobs: set[int]) -> int | None:
        """The job with the highest index on a press, the first of equals."""
        facts, free, setting = self.facts, self.free[press], self.setting[press]
        setups = None if setting is None else facts.setups(press, setting)
        ahead, shunned = self.k1 * facts.mean, self.k2 * facts.mean
        best, best_index = None, -math.inf
        for job in open_jobs:
            worth = facts.worth[job].get(press)
            if worth is None:
                continue
            ready, latest = self.ready[job], facts.latest[job]
            now = ready if ready > free else free
            slack = latest - now if latest is not None and latest > now else 0.0
            setup = 0.0 if setups is None else setups[facts.tasks[job]]
            waiting = (now - free) / facts.mean
            index = worth - slack / ahead - setup / shunned - 4 * waiting + facts.longest[job]
            if index > best_index or (index == best_index and best is not None and job < best):
                best, best_index = job, index
        return best

    def _new_setting(self, press: int, task: int) -> Setting:
        now, asked = self.setting[press], self.asked[press]
        return max(
            self.facts.suits[task, press],
            key=lambda s: (asked[s] - (self.settings.change_cost(press, now, s) if now else 0.0), -s[0]),
        )

    def _take(self, press: int, job: int) -> None:
        item = self.work.jobs[job]
        setting = self.setting[press]
        if setting is None or setting not in self.facts.suits[item.task, press]:
            new = self._new_setting(press, item.task)
            shown = self.instance.presses[press].at_start
            self.free[press] += (
                self.instance.warm_up(press, shown, new)
                if setting is None
                else self.instance.set_seconds(press, setting, new)
            )
            self.setting[press] = new
        for other, cycle in self.e.cycle[job].items():
            for s in self.facts.suits[item.task, other]:
                self.asked[other][s] -= cycle[0]
        start = max(self.free[press], self.ready[job])
        _, end = _forward(self.instance.presses[press].windows, start, self.e.cycle[job][press][0])
        if item.before >= 0:
            end = max(end, self.ends[item.before] + self.e.cycle[job][press][2])
        self.starts[job], self.ends[job], self.free[press] = start, end, end
        self.sequences[press].append(job)
        after = self.facts.after.get(job)
        if after is not None:
            self.ready[after] = start + self.e.first_piece[job]


def _forward(windows: Spans, start: int, seconds: int) -> tuple[int, int]:
    """When work that could start at `start` begins, and when so many working seconds of it have passed."""
    begin = -1
    for opens, closes in windows:
        if closes <= start:
            continue
        at = start if start > opens else opens
        if begin < 0:
            begin = at
        if at + seconds <= closes:
            return begin, at + seconds
        seconds -= closes - at
    last = max(start, windows[-1][1] if windows else 0)
    return (last if begin < 0 else begin), last + seconds
