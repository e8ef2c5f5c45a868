"""The same bundles given to a general-purpose scheduling library, PyJobShop, and its answer played by our dispatch.

What the library is told: presses are machines, bundles' stages are tasks of their order's job, people are a renewable
resource in hundredths of a person, set-up times stand between tasks whose windows have no common setting, time is
working time laid end to end. Weighted tardiness comes first by weight, then set-ups, then the makespan. What it
isn't told (peels, single loadings, who does what) the dispatch adds, with the best settings for its sequences.
It is started from a schedule of its own model made in order of due times, since on its own it often finds none.
"""

from __future__ import annotations

import time
from dataclasses import dataclass
from itertools import pairwise, permutations
from typing import Any

from scheduler import calendar
from scheduler.comparing.habit import middle
from scheduler.instance import Instance, Setting, Task
from scheduler.solving.axis import Axis
from scheduler.solving.bundles import Job, Work, cut
from scheduler.solving.estimate import Estimator
from scheduler.solving.incumbent import programme_of
from scheduler.solving.settings import Settings
from scheduler.timetable.dispatch import dispatch
from scheduler.timetable.manner import MANNERS
from scheduler.timetable.record import Timetable

LATE, SETUP, FINISH = 200, 2, 1  # a late second against a second of set-up and of makespan
HUNDREDTHS = 100
WORKERS = 2


@dataclass(frozen=True)
class Outside:
    """The library's answer: its own words for how it went, seconds for the model and the search, and the day played."""

    status: str
    build_s: float
    solve_s: float
    table: Timetable


def outside(instance: Instance, jobs: int, seconds: float) -> Outside:
    """Solve a day's bundles with PyJobShop in about so many seconds, and play what it found."""
    began = time.monotonic()
    work, settings = cut(instance, jobs), Settings(instance)
    told = _Model(instance, work, settings)
    machine_index = told.build()
    start = told.first()
    model = told.started(start)
    built = time.monotonic() - began
    result = model.solve(time_limit=max(1.0, seconds - built), num_workers=WORKERS, cp_model_probing_level=0)
    solved = time.monotonic() - began - built
    status, best = str(result.status.value), result.best
    if best is None or not best.tasks:
        status, best = "its start, nothing found", start
    sequences: list[list[int]] = [[] for _ in instance.presses]
    for job in sorted(range(len(work.jobs)), key=lambda j: best.tasks[j].start):
        machine = next(r for r in best.tasks[job].resources if r in machine_index)
        sequences[machine_index[machine]].append(job)
    programme = programme_of(settings, work, sequences)
    table = min((dispatch(instance, programme, manner) for manner in MANNERS), key=lambda t: t.value)
    return Outside(status, built, solved, table)


class _Model:
    def __init__(self, instance: Instance, work: Work, settings: Settings) -> None:
        import pyjobshop  # an extra of the tests

        self.instance, self.work = instance, work
        self.estimator = Estimator(instance, work, settings)
        self.axis = Axis(calendar.shop_windows(instance.day))
        self.model: Any = pyjobshop.Model()
        self.tasks: list[Any] = []
        self.modes: list[dict[int, tuple[int, int, int]]] = []  # press: number of the mode, seconds, hands asked
        self.set_up: list[dict[tuple[int, int], int]] = [{} for _ in instance.presses]

    def build(self) -> dict[int, int]:
        """Fill the model; which of its resources is which press."""
        orders = self._orders()
        self.machines = [self.model.add_machine(name=press.id) for press in self.instance.presses]
        crew = round(HUNDREDTHS * sum(1 / who.pace for who in self.instance.people))
        self.crew, self.hands = crew, self.model.add_renewable(crew, name="hands")
        for job in self.work.jobs:
            self._task(job, orders)
        for job in self.work.jobs:
            if job.before >= 0:
                self._after(job)
        for press, machine in enumerate(self.machines):
            self._set_ups(press, machine)
        self.model.set_objective(weight_makespan=FINISH, weight_total_tardiness=LATE, weight_total_setup_time=SETUP)
        return {self.model.resources.index(m): p for p, m in enumerate(self.machines)}

    def _orders(self) -> list[Any]:
        due = [self.axis.total if d is None else self.axis.work(max(0, d)) for d in self.instance.due]
        return [
            self.model.add_job(weight=round(weight), due_date=when, name=name)
            for name, weight, when in zip(self.instance.order_ids, self.instance.priority, due, strict=True)
        ]

    def _task(self, job: Job, orders: list[Any]) -> None:
        task = self.instance.tasks[job.task]
        order = orders[self.instance.order_of[task.line]]
        new = self.model.add_task(order, earliest_start=self._earliest(task), latest_end=self.axis.total)
        self.tasks.append(new)
        self.modes.append({})
        for press, (seconds, share, *_) in self.estimator.cycle[job.index].items():
            asked = min(self.crew, round(share * HUNDREDTHS))
            took = max(seconds, round(seconds * share * HUNDREDTHS / self.crew))
            self.model.add_mode(new, [self.machines[press], self.hands], took, [0, asked])
            self.modes[-1][press] = (len(self.model.modes) - 1, took, asked)

    def _earliest(self, task: Task) -> int:
        """When the pieces are there and the quickest of their presses is warm."""
        warm = min(self.instance.warm_up(p, self.instance.presses[p].at_start, middle(task, p)) for p in task.fits)
        return max(warm, self.axis.work(self.instance.ready[task.line]))

    def _after(self, job: Job) -> None:
        """A bundle's next stage starts once its first piece has cooled and ends after the last one has."""
        before = job.before
        first, tail = self._lags(before)
        self.model.add_start_before_start(self.tasks[before], self.tasks[job.index], first)
        self.model.add_end_before_end(self.tasks[before], self.tasks[job.index], tail)

    def _lags(self, before: int) -> tuple[int, int]:
        return self.estimator.first_piece[before], min(c[3] for c in self.estimator.cycle[before].values())

    def _set_ups(self, press: int, machine: Any) -> None:
        mine = [job for job in self.work.jobs if press in self.instance.tasks[job.task].fits]
        for a, b in permutations(mine, 2):
            seconds = self._change(press, self.instance.tasks[a.task], self.instance.tasks[b.task])
            if seconds:
                self.model.add_setup_time(machine, self.tasks[a.index], self.tasks[b.index], seconds)
                self.set_up[press][a.index, b.index] = seconds

    def _change(self, press: int, a: Task, b: Task) -> int:
        """No time where one setting suits both, else from the middle of one window to the middle of the other."""
        one, other = a.fits[press], b.fits[press]
        if one.lo <= other.hi and other.lo <= one.hi and set(one.pressures) & set(other.pressures):
            return 0
        before, after = (middle(task, press) for task in (a, b))
        return self.instance.set_seconds(press, before, after) or self._pressure(press, before)

    def _pressure(self, press: int, setting: Setting) -> int:
        return self.instance.set_seconds(press, setting, (setting[0], setting[1] + "'"))

    def started(self, start: Any) -> Any:
        """The library's constraint model with this schedule as its hint.

        The library hints every later task as a successor, and CP-SAT has to repair that: only the next one is.
        """
        from pyjobshop.solvers.ortools.CPModel import CPModel

        model = CPModel(self.model.data())
        model.variables.warmstart(start)
        wrong: set[int] = set()
        for machine in self.machines:
            resource = self.model.resources.index(machine)
            mine = [n for n, task in enumerate(start.tasks) if resource in task.resources]
            next_one = set(pairwise(sorted(mine, key=lambda n: start.tasks[n].start)))
            arcs = model.variables.sequence_vars[resource].arcs
            wrong |= {v.index for (a, b), v in arcs.items() if a != b and min(a, b) >= 0 and (a, b) not in next_one}
        hint = model.model.proto.solution_hint
        for at, variable in enumerate(hint.vars):
            if variable in wrong:
                hint.values[at] = 0
        return model

    def first(self) -> Any:
        """A schedule in order of due times, each task on the press where it ends first."""
        from pyjobshop.Solution import ScheduledTask, Solution

        due = [d if d is not None else self.axis.total for d in self.instance.due]
        tasks = [self.instance.tasks[job.task] for job in self.work.jobs]
        order = sorted(self.work.jobs, key=lambda j: (due[self.instance.order_of[tasks[j.index].line]], j.index))
        last: list[tuple[int, int]] = [(-1, 0)] * len(self.machines)  # the task that ran last, and its end
        spans: dict[int, tuple[int, int, int]] = {}  # start, end and hands asked
        found: dict[int, Any] = {}
        for job in order:
            options = [(*self._place(job, press, last[press], spans), press) for press in self.modes[job.index]]
            end, start, press = min(options)
            mode, _, asked = self.modes[job.index][press]
            spans[job.index] = (start, end, asked)
            last[press] = (job.index, end)
            resources = [self.model.resources.index(r) for r in (self.machines[press], self.hands)]
            found[job.index] = ScheduledTask(mode, resources, start, end)
        return Solution(self.model.data(), [found[job.index] for job in self.work.jobs])

    def _place(
        self, job: Job, press: int, last: tuple[int, int], spans: dict[int, tuple[int, int, int]]
    ) -> tuple[int, int]:
        """Earliest end and start of a task after the last one on a press, with hands free throughout."""
        _, took, asked = self.modes[job.index][press]
        start = max(self._earliest(self.instance.tasks[job.task]), last[1])
        start = max(start, last[1] + self.set_up[press].get((last[0], job.index), 0))
        if job.before >= 0:
            first, tail = self._lags(job.before)
            begun, ended, _ = spans[job.before]
            start = max(start, begun + first, ended + tail - took)
        ends = sorted(end for _, end, _ in spans.values())
        for moment in [start, *(end for end in ends if end > start)]:
            if self._asked(spans, moment, moment + took) + asked <= self.crew:
                return moment + took, moment
        raise AssertionError("after the last end every hand is free")

    @staticmethod
    def _asked(spans: dict[int, tuple[int, int, int]], start: int, end: int) -> int:
        """The most hands asked at once in a span."""
        inside = [(a, b, asked) for a, b, asked in spans.values() if a < end and b > start]
        moments = [start, *(a for a, _, _ in inside if a > start)]
        return max((sum(asked for a, b, asked in inside if a <= m < b) for m in moments), default=0)
