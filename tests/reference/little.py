"""Little days that can be reckoned in three ways: by the program, by trying everything, by a general library.

A job is one garment, a step one placement of it pressed once at one temperature; one person stands at each press,
so that a loading takes its hands and its dwell and nothing else. What is tried by hand here shares no line with
the program: changes are reckoned from degrees and rates, schedules by putting one loading after another.
"""

from __future__ import annotations

import math
import random
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from datetime import timedelta
from typing import Any

from models.day import Day
from tests.scheduler.breakdown.days import PRESS, Table, film, pile
from tests.scheduler.days import START, Ordered, day

Value = tuple[float, float]  # weighted late seconds, seconds of the second goal


@dataclass(frozen=True)
class Job:
    """Steps as (dwell seconds, degrees); `ready` and `due` in seconds from the start."""

    steps: tuple[tuple[int, int], ...]
    ready: int = 0
    due: int | None = None
    priority: float = 1


@dataclass(frozen=True)
class Machine:
    """A press: highest set-point, what it shows at first, degrees a minute up and down, settling seconds."""

    hottest: int = 430
    shown: int = 310
    up: int = 25
    down: int = 5
    settle: int = 60

    def change(self, a: int, b: int) -> int:
        """Contract section 4, in this file's own words."""
        if a == b:
            return 0
        return -(-60 * abs(b - a) // (self.up if b > a else self.down)) + self.settle


@dataclass(frozen=True)
class Little:
    """Jobs on machines; `hands`: load, align, peel and unload seconds; `worth`: minutes a change is worth."""

    jobs: tuple[Job, ...]
    machines: tuple[Machine, ...]
    hands: tuple[int, int, int, int] = (0, 0, 0, 0)
    worth: int = 10

    @property
    def loadings(self) -> int:
        """How many there are in all."""
        return sum(len(job.steps) for job in self.jobs)

    def day(self, **more: Any) -> Day:
        """Written as a day: films that stand so many later pressings and no more force the order of steps."""
        films: list[Table] = []
        designs: dict[str, dict[str, list[Table]]] = {}
        orders: list[Ordered] = []
        for n, job in enumerate(self.jobs):
            designs[f"d{n}"] = {}
            for k, (dwell, degrees) in enumerate(job.steps):
                later = len(job.steps) - 1 - k
                name, window = f"f{n}-{k}", {"temperature": degrees, "dwell_s": [dwell, dwell]}
                films.append(film(name, **window, peel_after_s=[0, 0], reheats=later))
                designs[f"d{n}"][f"place-{k}"] = [pile(name)]
            given: dict[str, Any] = {"ready": START + timedelta(seconds=job.ready), "priority": job.priority}
            if job.due is not None:
                given["due"] = START + timedelta(seconds=job.due)
            orders.append((f"d{n}", 1, given))
        load, align, peel, unload = self.hands
        shop: dict[str, Any] = {
            "presses": [_press(k, machine) for k, machine in enumerate(self.machines)],
            "people": [{"id": f"at-{k}", "presses": [f"m{k}"]} for k in range(len(self.machines))],
            "hands": {"load_s": load, "align_s": align, "peel_s": peel, "unload_s": unload},
            "hours": {"open": "00:00", "close": "24:00"},
            "goals": {"change": self.worth},
        }
        return day(films, designs, orders, **{**shop, **more})


def _press(number: int, machine: Machine) -> Table:
    rates = {"heat_up": machine.up, "cool_down": machine.down, "settle_s": machine.settle}
    limits = {"temperature": [100, machine.hottest], "at_start": machine.shown}
    return {**PRESS, "id": f"m{number}", **rates, **limits}


def drawn(rng: random.Random, most: int = 7, alike: bool = False) -> Little:
    """A little day of at most so many loadings on one to three presses; `alike`: all presses are the same."""
    count = rng.randint(1, 3 if most < 6 else 2)
    machine = Machine(shown=rng.choice([72, 300, 310]), down=rng.choice([4, 10]), settle=rng.choice([0, 60]))
    machines = [machine] * count
    if not alike:
        machines = [
            Machine(430 if k == 0 else rng.choice([312, 430]), rng.choice([72, 300, 325])) for k in range(count)
        ]
    jobs: list[Job] = []
    left = rng.randint(3, most)
    while left:
        steps = min(left, rng.choice([1, 1, 1, 2]))
        left -= steps
        jobs.append(_job(rng, steps))
    return Little(tuple(jobs), tuple(machines), rng.choice([(0, 0, 0, 0), (10, 8, 4, 4)]), 0 if alike else 10)


def _job(rng: random.Random, steps: int) -> Job:
    work = tuple((rng.choice([10, 60, 90, 240, 600]), rng.choice([290, 300, 310, 325])) for _ in range(steps))
    ready = rng.choice([0, 0, 0, 200, 900])
    due = rng.choice([None, 120, 500, 1200, 2400])
    return Job(work, ready, due, rng.choice([1, 1, 2, 5]))


class Everything:
    """Every press and every order of a little day's loadings, one loading begun after another."""

    def __init__(self, little: Little) -> None:
        self.little = little
        self.extra = sum(little.hands)

    def best(self) -> Value:
        """The least late seconds, and with them the least of the second goal."""
        return self._search(lambda late, work: (late, work))

    def least_work(self) -> float:
        """The least of the second goal, however late."""
        return self._search(lambda late, work: (0.0, work))[1]

    def _search(self, value: Callable[[float, float], Value]) -> Value:
        self.value, self.found = value, (math.inf, math.inf)
        jobs, machines = self.little.jobs, self.little.machines
        self._grow([0] * len(jobs), [job.ready for job in jobs], [(0, None)] * len(machines), 0, 0.0, 0.0, 0)
        return self.found

    def _grow(
        self,
        step: list[int],
        ready: list[int],
        machines: list[tuple[int, int | None]],
        begun: int,
        late: float,
        changing: float,
        finish: int,
    ) -> None:
        if self.value(late, finish + changing) >= self.found:
            return
        if all(k == len(job.steps) for k, job in zip(step, self.little.jobs, strict=True)):
            self.found = self.value(late, finish + changing)
            return
        for j, m in self._next(step):
            job, machine = self.little.jobs[j], self.little.machines[m]
            dwell, degrees = job.steps[step[j]]
            free, setting = machines[m]
            change = machine.change(machine.shown if setting is None else setting, degrees)
            start = max(ready[j], free + change)
            if start < begun:
                continue
            end = start + dwell + self.extra
            cost = change + 60 * self.little.worth if change and setting is not None else 0
            over = 0.0
            if step[j] + 1 == len(job.steps) and job.due is not None:
                over = job.priority * max(0, end - job.due)
            self._grow(
                [k + (i == j) for i, k in enumerate(step)],
                [end if i == j else r for i, r in enumerate(ready)],
                [(end, degrees) if i == m else other for i, other in enumerate(machines)],
                start,
                late + over,
                changing + cost,
                max(finish, end),
            )

    def _next(self, step: list[int]) -> Iterator[tuple[int, int]]:
        for j, job in enumerate(self.little.jobs):
            if step[j] < len(job.steps):
                for m, machine in enumerate(self.little.machines):
                    if job.steps[step[j]][1] <= machine.hottest:
                        yield j, m


def library(little: Little, seconds: float) -> tuple[Value | None, bool]:
    """(best, proven) by PyJobShop, for presses that are alike and changes that are worth only their time.

    Set-ups stand between tasks; a warm-up is the earliest start of whatever comes first, and of what comes later
    a fortiori, for no way round is shorter. Late seconds weigh more than any second goal.
    """
    import pyjobshop

    machine = little.machines[0]
    assert little.worth == 0 and all(other == machine for other in little.machines)
    model, extra = pyjobshop.Model(), sum(little.hands)
    machines = [model.add_machine() for _ in little.machines]
    tasks: list[tuple[Any, int]] = []
    for job in little.jobs:
        order = model.add_job(weight=round(job.priority), due_date=10_000_000 if job.due is None else job.due)
        before = None
        for dwell, degrees in job.steps:
            warm = machine.change(machine.shown, degrees)
            task = model.add_task(order, earliest_start=max(job.ready, warm))
            for each in machines:
                model.add_mode(task, [each], dwell + extra)
            if before is not None:
                model.add_end_before_start(before, task)
            before = task
            tasks.append((task, degrees))
    for each in machines:
        for a, hot in tasks:
            for b, cold in tasks:
                if a is not b and machine.change(hot, cold):
                    model.add_setup_time(each, a, b, machine.change(hot, cold))
    weight = 20_000  # above any second goal of a little day; much more and the library's sums overflow
    set_ups = bool(model.constraints.setup_times)
    model.set_objective(weight_total_tardiness=weight, weight_makespan=1, weight_total_setup_time=int(set_ups))
    result = model.solve(time_limit=seconds, num_workers=2, display=False)
    if result.best is None:
        return None, False
    late, work = divmod(round(result.objective), weight)
    return (late, work), result.status.value == "Optimal"
