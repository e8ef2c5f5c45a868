"""The same bundles given to a general-purpose scheduling library, PyJobShop, and its answer played by our dispatch.

What the library is told: presses are machines, bundles' stages are tasks of their order's job, people are a renewable
resource in hundredths of a person, set-up times stand between tasks whose windows have no common setting, time is
working time laid end to end. Weighted tardiness comes first by weight, then set-ups, then the makespan. What it
isn't told (peels, single loadings, who does what) the dispatch adds, with the best settings for its sequences.
"""

from __future__ import annotations

import time
from dataclasses import dataclass
from itertools import permutations
from typing import Any

from scheduler import calendar
from scheduler.instance import Instance, Setting, Task
from scheduler.solving.axis import Axis
from scheduler.solving.bundles import Job, Work, cut
from scheduler.solving.estimate import Estimator
from scheduler.solving.incumbent import programme_of
from scheduler.solving.settings import Settings
from scheduler.timetable.dispatch import MANNERS, dispatch
from scheduler.timetable.record import Timetable
from tests.bench.habit import middle

LATE, SETUP, FINISH = 200, 2, 1  # a late second against a second of set-up and of makespan
HUNDREDTHS = 100
WORKERS = 2


@dataclass(frozen=True)
class Outside:
    """The library's answer: its own words for how it went, seconds for the model and the search, and the day played."""

    status: str
    build_s: float
    solve_s: float
    table: Timetable | None


def outside(instance: Instance, jobs: int, seconds: float) -> Outside:
    """Solve a day's bundles with PyJobShop in about so many seconds, and play what it found."""
    began = time.monotonic()
    work, settings = cut(instance, jobs), Settings(instance)
    model, machine_index = _Model(instance, work, settings).build()
    built = time.monotonic() - began
    result = model.solve(time_limit=max(1.0, seconds - built), display=False, num_workers=WORKERS)
    solved = time.monotonic() - began - built
    status = str(result.status.value)
    if result.best is None or not result.best.tasks:
        return Outside(status, built, solved, None)
    sequences: list[list[int]] = [[] for _ in instance.presses]
    for job in sorted(range(len(work.jobs)), key=lambda j: result.best.tasks[j].start):
        machine = next(r for r in result.best.tasks[job].resources if r in machine_index)
        sequences[machine_index[machine]].append(job)
    programme = programme_of(settings, work, sequences)
    table = min((dispatch(instance, programme, manner) for manner in MANNERS), key=lambda t: t.value)
    return Outside(status, built, solved, table)


class _Model:
    def __init__(self, instance: Instance, work: Work, settings: Settings) -> None:
        import pyjobshop  # an extra of the bench

        self.instance, self.work = instance, work
        self.estimator = Estimator(instance, work, settings)
        self.axis = Axis(calendar.shop_windows(instance.day))
        self.model: Any = pyjobshop.Model()
        self.tasks: list[Any] = []

    def build(self) -> tuple[Any, dict[int, int]]:
        """The model, and which of its resources is which press."""
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
        self.model.set_objective(
            weight_makespan=FINISH, weight_total_tardiness=LATE, weight_total_setup_time=SETUP
        )
        return self.model, {self.model.resources.index(m): p for p, m in enumerate(self.machines)}

    def _orders(self) -> list[Any]:
        due = [self.axis.total if d is None else self.axis.work(max(0, d)) for d in self.instance.due]
        return [
            self.model.add_job(weight=round(weight), due_date=when, name=name)
            for name, weight, when in zip(self.instance.order_ids, self.instance.priority, due, strict=True)
        ]

    def _task(self, job: Job, orders: list[Any]) -> None:
        task = self.instance.tasks[job.task]
        order = orders[self.instance.order_of[task.line]]
        new = self.model.add_task(order, earliest_start=self._earliest(task), name=str(job.index))
        self.tasks.append(new)
        for press, (seconds, share, _, _) in self.estimator.cycle[job.index].items():
            asked = min(self.crew, round(share * HUNDREDTHS))
            took = max(seconds, round(seconds * share * HUNDREDTHS / self.crew))
            self.model.add_mode(new, [self.machines[press], self.hands], took, [0, asked])

    def _earliest(self, task: Task) -> int:
        """When the pieces are there and the quickest of their presses is warm."""
        warm = min(
            self.instance.warm_up(p, self.instance.presses[p].at_start, middle(task, p)) for p in task.fits
        )
        return max(warm, self.axis.work(self.instance.ready[task.line]))

    def _after(self, job: Job) -> None:
        """A bundle's next stage starts once its first piece has cooled and ends after the last one has."""
        before = job.before
        first = self.estimator.first_piece[before]
        tail = min(c[3] for c in self.estimator.cycle[before].values())
        self.model.add_start_before_start(self.tasks[before], self.tasks[job.index], first)
        self.model.add_end_before_end(self.tasks[before], self.tasks[job.index], tail)

    def _set_ups(self, press: int, machine: Any) -> None:
        mine = [job for job in self.work.jobs if press in self.instance.tasks[job.task].fits]
        for a, b in permutations(mine, 2):
            seconds = self._change(press, self.instance.tasks[a.task], self.instance.tasks[b.task])
            if seconds:
                self.model.add_setup_time(machine, self.tasks[a.index], self.tasks[b.index], seconds)

    def _change(self, press: int, a: Task, b: Task) -> int:
        """No time where one setting suits both, else from the middle of one window to the middle of the other."""
        one, other = a.fits[press], b.fits[press]
        if one.lo <= other.hi and other.lo <= one.hi and set(one.pressures) & set(other.pressures):
            return 0
        before, after = (middle(task, press) for task in (a, b))
        return self.instance.set_seconds(press, before, after) or self._pressure(press, before)

    def _pressure(self, press: int, setting: Setting) -> int:
        return self.instance.set_seconds(press, setting, (setting[0], setting[1] + "'"))
