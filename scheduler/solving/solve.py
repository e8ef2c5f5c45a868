"""The road from operations to the best timetable found, and what no plan can beat."""

from __future__ import annotations

import math
import random
import time
from collections.abc import Callable, Sequence
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import TypeVar

from models.day import Day
from scheduler.instance import Chain, Instance, Routes
from scheduler.solving.allotment import Allotment, allotments
from scheduler.solving.begun import Begun, begun, by_clock, by_effort, loss_of
from scheduler.solving.bounds import Bound, work_bound
from scheduler.solving.bundles import cut
from scheduler.solving.chains import alternatives, default_chains
from scheduler.solving.climb import climb
from scheduler.solving.corrected import corrected, margin
from scheduler.solving.efforts import Effort
from scheduler.solving.estimate import Estimator
from scheduler.solving.improve import neighbourhoods
from scheduler.solving.incumbent import Incumbent, Kept, Leisure, Progress
from scheduler.solving.late_bound import late_bound
from scheduler.solving.least import hopeless, least_operations
from scheduler.solving.loads import least_parts
from scheduler.solving.local import ENDLESS, WARM, clock, finalists
from scheduler.solving.paces import Rhythms
from scheduler.solving.partner import Found, Partner
from scheduler.solving.polishing import Polishing
from scheduler.solving.steps import LARGE
from scheduler.solving.view import View, many
from scheduler.timetable.dispatch import dispatch
from scheduler.timetable.polish import polish
from scheduler.timetable.record import Timetable

_T = TypeVar("_T")
TellBound = Callable[[float, float], None]
_SEEDS = 2  # further seeds that are played
# the share of the clock's time that a long search takes: on small days, where there are many jobs, and on large days
_LONG, _LONG_OF_MANY, _LONG_OF_LARGE = 0.1, 0.05, 0.5
_LEAST_LONG = 0.1  # seconds
_AFTER = 0.6  # of what is left of the time a last search takes so much, for what comes after it
# shares of the clock's time: after the first the best is put right to the second beside the search, in the last alone
_FIRST, _LAST = 0.3, 0.15
# shares of the clock's time that a second search is at work beside the first; and the least, in seconds, it is worth
_BESIDE, _BESIDE_LARGE, _WORTH = 0.7, 0.9, 2.0
_MANNERS = 0.15  # of the clock's time for playing the best in further manners of serving
_ALLOT = 0.07  # of the clock's time for the ordered problem
_CLIMB, _NEARLY = 0.2, 120.0  # of the clock's time for climbing where a plan is no later than so many weighted seconds
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


def search_alone(day: Day, routes: Routes, effort: Effort, seed: int, seconds: float) -> Found:
    """The best that the search finds in so many seconds, without bounds and as it was dispatched."""
    return _Solve(day, routes, effort, seed, seconds, lambda stage, table: None, lambda late, work: None, True).alone()


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
        second: bool = False,
    ) -> None:
        self.day, self.routes, self.effort, self.seconds, self.second = day, routes, effort, seconds, second
        self.rng = random.Random(seed)
        self.seed = seed
        self.began = time.monotonic()
        self.polishing: Polishing | None = None
        self.partner: Partner | None = None
        self.least = least_operations(day, routes)
        self.large = sum(op.pieces for op in self.least) > LARGE
        self.best = Incumbent(tell, leisure=Leisure(_MANNERS) if seconds is not None else None)
        self.rhythms = {played: Rhythms(played) for played in (True, False)}
        self.tell_bound = tell_bound
        self.bounds = (0.0, 0.0)
        self.proving: Future[tuple[float, Bound]] | None = None
        self.believed: Estimator | None = None
        self.allotments: list[Allotment] = []
        self.begun: list[Begun] = []
        self.stood: list[Kept] = []  # the best whenever `stop` was asked while bounds were being proven
        self.answer: Solution | None = None
        self.given_up = False

    def stop(self) -> bool:
        """Whether the clock has run out, where one was set, or the gap is closed."""
        if self.given_up:
            return True
        if self._past(self._end()):
            return True
        self._meet()
        beside = self.partner is not None and not self.partner.over
        table, instance = self.best.table, self.best.instance
        if self.polishing and table and instance and not self.large and not beside and self._past(_FIRST):
            self.polishing.take(instance, table)
        if self.proving is not None:
            self.stood.append(self.best.kept())
            return self.proving.done() and self._proven()
        return self._closed()

    def _meet(self) -> None:
        """Take up what the partner found, as soon as it is there."""
        found = self.partner.found() if self.partner is not None else None
        if found is not None:
            instance = Instance(self.day, found.chains)
            table = dispatch(instance, found.programme, found.manner)
            self.best.offer("second search", instance, found.programme, table, found.manner)
            if not self.large:
                self.best.settle()

    def _end(self) -> float:
        """The share of the clock's time at which the search ends."""
        return 1.0 if self.large or not self.polishing else 1 - _LAST

    def _many(self) -> bool:
        """Whether there are many jobs."""
        return many(cut(Instance(self.day, default_chains(self.day, self.routes)), self.effort.jobs))

    def _past(self, share: float) -> bool:
        """Whether so much of the clock's time has passed."""
        return self.seconds is not None and time.monotonic() - self.began > share * self.seconds

    def _closed(self) -> bool:
        """Whether the best so far is as good as its bounds."""
        late, work = self.bounds
        value = self.best.value
        return value[0] == 0 and value[1] <= late + _SURE and value[2] <= work + _SURE

    def alone(self) -> Found:
        """A search of its own: the road of a level, by the clock, to the best programme."""
        view = self._start(default_chains(self.day, self.routes), self.effort)
        assert self.seconds is not None
        self._allot(view, self.effort, self._allotting(view, self.effort))
        self._until_the_clock(view, self.effort)
        assert self.best.instance is not None
        return Found(tuple(self.best.instance.chains), self.best.programme, self.best.manner)

    def run(self) -> Solution:
        if self.seconds is not None:
            self.polishing = Polishing(self.seed, self.began + self.seconds)
            beside = (_BESIDE_LARGE if self.large else _BESIDE) * self.seconds
            if beside > _WORTH:
                self.partner = Partner(search_alone, self.day, self.routes, self.effort, self.seed + 1, beside)
        try:
            hasty = self.seconds is not None and (self.large or not self._many())  # long searches are worth more
            if hasty and not self.large:
                self._first()
            for level in (self.effort,) if hasty else (*self.effort.lighter, self.effort):
                if self.answer is not None and self.stop():
                    break
                self._level(level, last=level is self.effort)
            if self.polishing is not None and not self.given_up and not self._closed():
                self._polished(self.polishing)
        finally:
            if self.polishing is not None:
                self.polishing.end()
            if self.partner is not None:
                self.partner.end()
        assert self.answer is not None
        self._late_bound_again(self.answer.instance)
        return replace(self.answer, bounds=self.bounds)

    def _first(self) -> None:
        """A first plan at once, by the lightest effort: rhythms are not played for it."""
        lightest, *_ = *self.effort.lighter, self.effort
        view = self._view(default_chains(self.day, self.routes), lightest)
        view.play(self.best, "seed", view.first[0], alone=True)

    def _level(self, effort: Effort, last: bool) -> None:
        """Everything one effort does, from the best so far on."""
        self.rng = random.Random(self.seed)
        chains = self.best.instance.chains if self.best.instance else default_chains(self.day, self.routes)
        view = self._start(chains, effort)
        if self.answer is None:
            if self.best.value[0] and hopeless(view.instance, self.least):
                self._take(effort, to_the_second=False)
                self.given_up = True
                return
            self._bound(view.instance)
        wanted = self._allotting(view, effort)
        if last and self.seconds is not None:
            self._allot(view, effort, wanted)
            self._until_the_clock(view, effort)
        else:
            view = self._search(view, effort, wanted)
            self._proven()
            view = self._other_chains(view, effort)
            neighbourhoods(self.best, view, effort, self.seed, self.stop)
            climb(view, self.best, effort.plays, self.rng, self.stop)
            self.best.settle()
        self._take(effort, to_the_second=not self.stop())

    def _polished(self, polishing: Polishing) -> None:
        """What is left of the clock's time goes into putting the best right to the second."""
        assert self.best.table is not None and self.best.instance is not None and self.answer is not None
        polishing.take(self.best.instance, self.best.table)
        plan = polishing.finish()
        if plan.table.value < self.answer.table.value:
            self.best.tell("to the second", plan.table)
            self.answer = Solution(plan.instance, plan.table, plan.played, self.bounds)

    def _take(self, effort: Effort, to_the_second: bool) -> None:
        """The best so far, put right to the second, is the answer where it is better than the last."""
        played, instance = self.best.table, self.best.instance
        assert played is not None and instance is not None
        table = polish(instance, played, effort.polish, self.seed) if to_the_second else played
        if self.answer is None or table.value < self.answer.table.value:
            if table is not played:
                self.best.tell("to the second", table)
            self.answer = Solution(instance, table, played, self.bounds)

    def _start(self, chains: Sequence[Chain], effort: Effort) -> View:
        view = self._view(chains, effort)
        if self.best.table is not None:
            mine = view.retold(self.best.table)
            if mine is not None:
                view.play(self.best, "again", mine)
        for number, sequences in enumerate(view.first[: 1 + _SEEDS]):
            if number and self.stop():
                break
            table = view.play(self.best, "seed", sequences, alone=number > 0)
            if self.large:  # there will be few playings to learn from
                view.estimator.learn(sequences, table)
            else:
                view.estimator.compare(sequences, table)
        return view

    def _view(self, chains: Sequence[Chain], effort: Effort) -> View:
        """A view that believes what the last one learnt of the paces of presses."""
        view = View.of(Instance(self.day, chains), effort.jobs, self.rhythms[effort.rhythms])
        if self.believed is not None:
            view.estimator.believe(self.believed)
        self.believed = view.estimator
        view.admit(sequences for a in self.allotments if (sequences := view.placed(a.places)) is not None)
        return view

    def _allotting(self, view: View, effort: Effort) -> Future[list[Allotment]]:
        """Begin to solve the ordered problem, beside what Python does."""
        spare = effort.allot if self.seconds is None else min(effort.allot, _ALLOT * self.seconds)
        known, loss = self.best.value[2], loss_of(view, self.second)
        return _beside(lambda: allotments(view.instance, self.routes, known, spare, loss))

    def _allot(self, view: View, effort: Effort, wanted: Future[list[Allotment]]) -> None:
        """Play what the ordered problem would do; searches may begin there."""
        found = wanted.result()
        self.begun = begun(view, self.best, found, self.second, lambda a: self._at(a, effort))
        self.allotments = found or self.allotments

    def _at(self, allotment: Allotment, effort: Effort) -> View | None:
        """A view of an allotment, with every line going as it does there."""
        instance = Instance(self.day, allotment.chains)
        view = View.at(instance, effort.jobs, self.rhythms[effort.rhythms], allotment.places)
        if view is not None and self.believed is not None:
            view.estimator.believe(self.believed)
        return view

    def _bound(self, instance: Instance) -> None:
        """Begin to prove bounds. The solver does so beside the first search, which is all Python."""
        value = self.best.value
        self.proving = _beside(lambda: self._prove(instance, value))

    def _prove(self, instance: Instance, value: tuple[float, float, float]) -> tuple[float, Bound]:
        failed, is_late, work = value
        late = late_bound(instance, self.least, self.effort.bound) if is_late else 0.0
        as_good = None if failed else is_late  # a plan that breaks nothing may have to be later
        return late, work_bound(instance, least_parts(instance, self.routes), work, self.effort.bound, as_good)

    def _proven(self) -> bool:
        """Take the bounds up as if they had been there before the search, so that the same plan comes of it whatever
        was ready first: what was found after the gap was closed is dropped. Whether it was closed."""
        if self.proving is None:
            return False
        late, bound = self.proving.result()
        self.proving, self.bounds = None, (late, bound.work)
        self.tell_bound(self.bounds[0] / 60, self.bounds[1] / 60)
        now = self.best.kept()
        for kept in self.stood:
            self.best.back_to(kept)
            if self._closed():
                return True
        self.best.back_to(now)
        return False

    def _until_the_clock(self, view: View, effort: Effort) -> None:
        """Where a clock was set, all of its time is used: long searches in turn from a first plan, from the best and
        from the best well shaken; a look at other routes between them."""
        assert self.seconds is not None
        number, climbed = 0, (math.inf, math.inf, math.inf)
        while not self.stop():
            where, start = view, None
            if self.begun:
                table, where, start = self.begun.pop(0)
                if view.many and table.late < _NEARLY:
                    self._climb_for(_CLIMB * self.seconds, where, start)
            where.estimator.draw_in(margin(where, number))
            start = start or by_clock(view, self.best, self.rng, number)
            corrected(where, self.best, effort, start, self.rng, self.stop, self._long(view))
            if not self.large:
                self.best.settle()
            view = min(view, where, key=lambda v: v.value)
            if number == 1:
                view = self._other_chains(view, effort)
            if view.value < climbed:
                climb(view, self.best, effort.plays, self.rng, self.stop)
                climbed = view.value
            number += 1
        self._proven()

    def _climb_for(self, seconds: float, view: View, start: list[list[int]]) -> None:
        passed = clock(seconds)
        climb(view, self.best, ENDLESS, self.rng, lambda: passed() >= 1 or self.stop(), start)

    def _long(self, view: View) -> float:
        """Seconds a long search takes."""
        assert self.seconds is not None
        share = _LONG_OF_LARGE if self.large else _LONG_OF_MANY if view.many else _LONG
        left = self.seconds * self._end() - (time.monotonic() - self.began)
        return max(_LEAST_LONG, min(share * self.seconds, _AFTER * left))

    def _late_bound_again(self, instance: Instance) -> None:
        """Where something stays late, it is worth more effort to prove that it has to be."""
        if self.best.value[1] > self.bounds[0] + _SURE and self.seconds is None:
            late = late_bound(instance, self.least, 6 * self.effort.bound)
            self.bounds = (max(self.bounds[0], late), self.bounds[1])

    def _search(self, view: View, effort: Effort, wanted: Future[list[Allotment]]) -> View:
        """Local search from the seed, then from what the ordered problem would do, then from shaken bests and first
        plans; the view with the best is where to go on. Where there are few jobs the ordered problem is solved beside
        the first of them."""
        for number in range(effort.starts):
            if self.stop():
                break
            if number == (0 if view.many else 1):
                self._allot_and_settle(view, effort, wanted)
            where, start = view, None
            if number and self.begun:
                _, where, start = self.begun.pop(0)
            where.estimator.draw_in(margin(where, number))
            start = start or by_effort(view, self.rng, number, allotted=bool(self.allotments))
            corrected(where, self.best, effort, start, self.rng, self.stop)
            view = min(view, where, key=lambda v: v.value)
        return view

    def _allot_and_settle(self, view: View, effort: Effort, wanted: Future[list[Allotment]]) -> None:
        before = self.best.value
        self._allot(view, effort, wanted)
        if self.best.value < before:
            self.best.settle()

    def _glance(self, view: View, effort: Effort) -> None:
        """One short search from the best so far as it goes in this view, to see whether the view is worth more."""
        assert self.best.table is not None
        start = view.retold(self.best.table) or view.sequences
        view.estimator.draw_in(margin(view))
        moves = effort.moves * len(view.work.jobs) // 3
        for sequences in (start, *finalists(view.estimator, start, moves, self.rng, 1, self.stop, hot=WARM)):
            view.play(self.best, "other route", sequences)

    def _other_chains(self, view: View, effort: Effort) -> View:
        """Other routes and other ways to share loadings, what promises most first."""
        now = list(view.instance.chains)
        for lines, chain in alternatives(self.day, self.routes, now)[: effort.chains]:
            if self.stop():
                break
            trial = [chain if n in lines else c for n, c in enumerate(now)]
            other = self._view(trial, effort)
            before = self.best.value
            self._glance(other, effort)
            if self.best.value < before:
                now, view = trial, other
        return view


def _beside(what: Callable[[], _T]) -> Future[_T]:
    """Begin something in a thread of its own."""
    thread = ThreadPoolExecutor(1)
    under_way = thread.submit(what)
    thread.shutdown(wait=False)
    return under_way
