"""The road from operations to the best timetable found, and what no plan can beat."""

from __future__ import annotations

import random
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from models.day import Day
from scheduler.instance import Chain, Instance, Routes
from scheduler.solving.bounds import work_bound
from scheduler.solving.chains import alternatives, default_chains
from scheduler.solving.efforts import Effort
from scheduler.solving.improve import neighbourhoods
from scheduler.solving.incumbent import Incumbent, Progress
from scheduler.solving.late_bound import late_bound
from scheduler.solving.least import hopeless, least_operations
from scheduler.solving.loads import least_parts
from scheduler.solving.local import search
from scheduler.solving.view import View, shaken
from scheduler.timetable.polish import polish
from scheduler.timetable.record import Timetable

TellBound = Callable[[float, float], None]
MARGINS = (0.06, 0.12, 0.0)  # shares by which due times are drawn in, search by search
_SEEDS = 2  # further seeds that are played
_SURE = 0.5  # seconds: closer than this to its bound a plan is as good as any


@dataclass(frozen=True)
class Solution:
    """The best timetable found, the instance it belongs to, and bounds (late, work) in seconds of the goals.

    `played` is the same as it was dispatched, before it was put right to the second.
    """

    instance: Instance
    table: Timetable
    played: Timetable
    bounds: tuple[float, float]


def solve(
    day: Day,
    routes: Routes,
    effort: Effort,
    seed: int = 0,
    seconds: float | None = None,
    tell: Progress = lambda stage, table: None,
    tell_bound: TellBound = lambda late, work: None,
) -> Solution:
    """Plan a day. `seconds`: a wall clock instead of the effort's own measure, then runs may differ.

    `tell` hears of every better timetable and where it came from, `tell_bound` of the bounds, in minutes.
    """
    return _Solve(day, routes, effort, seed, seconds, tell, tell_bound).run()


class _Solve:
    def __init__(
        self,
        day: Day,
        routes: Routes,
        effort: Effort,
        seed: int,
        seconds: float | None,
        tell: Progress,
        tell_bound: TellBound,
    ) -> None:
        self.day, self.routes, self.effort, self.seconds = day, routes, effort, seconds
        self.rng = random.Random(seed)
        self.seed = seed
        self.began = time.monotonic()
        self.least = least_operations(day, routes)
        self.best = Incumbent(tell)
        self.tell_bound = tell_bound
        self.bounds = (0.0, 0.0)

    def stop(self) -> bool:
        """Whether the clock has run out, where one was set, or the gap is closed."""
        if self.seconds is not None and time.monotonic() - self.began > self.seconds:
            return True
        late, work = self.bounds
        value = self.best.value
        return value[0] == 0 and value[1] <= late + _SURE and value[2] <= work + _SURE

    def run(self) -> Solution:
        chains = default_chains(self.day, self.routes)
        view = self._start(chains)
        if self.best.value[0] and hopeless(view.instance, self.least):
            assert self.best.table is not None
            return Solution(view.instance, self.best.table, self.best.table, self.bounds)
        self._bound(view)
        self._search(view, self.effort.starts)
        view = self._other_chains(chains, view)
        neighbourhoods(self.best, view, self.effort, self.seed, self.stop)
        self._until_the_clock(view)
        assert self.best.table is not None and self.best.instance is not None
        self._late_bound_again(self.best.instance)
        played = self.best.table
        table = played if self.stop() else polish(self.best.instance, played, self.effort.polish, self.seed)
        if table is not played:
            self.best.tell("to the second", table)
        return Solution(self.best.instance, table, played, self.bounds)

    def _start(self, chains: Sequence[Chain]) -> View:
        view = View.of(Instance(self.day, chains), self.effort.jobs)
        view.offer(self.best, "seed", view.sequences)
        for sequences in view.others[:_SEEDS]:
            if self.stop():
                break
            view.offer(self.best, "seed", sequences)
        return view

    def _bound(self, view: View) -> None:
        late = late_bound(view.instance, self.least, self.effort.bound) if self.best.value[1] else 0.0
        parts = least_parts(view.instance, self.routes)
        failed, is_late, work = self.best.value
        as_good = None if failed else is_late  # a plan that breaks nothing may have to be later
        self.bounds = (late, work_bound(view.instance, parts, work, self.effort.bound, as_good).work)
        self.tell_bound(self.bounds[0] / 60, self.bounds[1] / 60)

    def _until_the_clock(self, view: View) -> None:
        """Where a clock was set, all of its time is used: search and neighbourhoods in turn."""
        number = self.seed
        while self.seconds is not None and not self.stop():
            number += 1
            self._search(view, len(MARGINS))
            neighbourhoods(self.best, view, self.effort, number, self.stop)

    def _late_bound_again(self, instance: Instance) -> None:
        """Where something stays late, it is worth more effort to prove that it has to be."""
        if self.best.value[1] > self.bounds[0] + _SURE and self.seconds is None:
            late = late_bound(instance, self.least, 6 * self.effort.bound)
            self.bounds = (max(self.bounds[0], late), self.bounds[1])

    def _search(self, view: View, starts: int, stage: str = "search") -> None:
        """Local search from the seed, then from shaken bests; each answer is played, and the estimate learns of it."""
        for number in range(starts):
            if self.stop():
                break
            start = shaken(view, view.sequences, self.rng) if number % 3 == 2 else view.sequences
            view.estimator.draw_in(MARGINS[number % len(MARGINS)])
            view.offer(self.best, stage, search(view.estimator, start, self.effort.moves, self.rng, self.stop))

    def _other_chains(self, chains: Sequence[Chain], view: View) -> View:
        """Other routes and other ways to share loadings, for the heaviest designs first."""
        now = list(chains)
        for lines, chain in alternatives(self.day, self.routes, now)[: self.effort.chains]:
            if self.stop():
                break
            trial = [chain if n in lines else c for n, c in enumerate(now)]
            other = View.of(Instance(self.day, trial), self.effort.jobs)
            before = self.best.value
            other.offer(self.best, "other route", other.sequences)
            self._search(other, 1, "other route")
            if self.best.value < before:
                now, view = trial, other
        return view
