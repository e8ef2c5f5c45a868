"""One rough playing of sequences: between two events every press runs at a rate of its own.

A search has no use for most of what it tries: a playing ends as soon as that is sure, by what is late so far, the
changes there are to be, and the work each press has left.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from scheduler.instance import Setting
from scheduler.timetable.acts import FAR

if TYPE_CHECKING:
    from scheduler.solving.estimate import Estimator, Sequences

_DONE = 0.5  # seconds: with less left a job is done


class Cycle(NamedTuple):
    """A job on a press: `seconds` of it all with hands enough, and the `share` of a person it asks for; of one
    loading the seconds on the press (`occupied`), from there to its last peel (`tail`), and to the next (`each`);
    `asks`: what it asks of the crew, by number."""

    seconds: int
    share: float
    occupied: int
    tail: int
    each: int
    asks: int


class Limit(NamedTuple):
    """What a search has a use for: plans that cost no more than `take` where a weighted late second counts as
    `weight` seconds of work, or less than `keep` where it counts as `weight_kept`."""

    weight: float
    take: float
    weight_kept: float
    keep: float

    def passed(self, late: float, work: float) -> bool:
        """Whether a plan at least as late, and of at least as much work, is of no use."""
        return self.weight * late + work > self.take and self.weight_kept * late + work >= self.keep


ANY = Limit(0.0, float(FAR), 0.0, float(FAR))


@dataclass(frozen=True, slots=True)
class Estimate:
    """Rough figures in seconds; `starts` and `ends` are the jobs'. Not comparable with a timetable's figures."""

    late: float
    work: float
    finish: int
    ends: tuple[int, ...]
    starts: tuple[int, ...]
    order_finish: tuple[int, ...]

    @property
    def value(self) -> tuple[float, float]:
        """What the search compares."""
        return (self.late, self.work)


class Run:
    """Presses with their jobs, from now on; lists are by press, or else by job."""

    def __init__(self, estimator: Estimator, sequences: Sequences, limit: Limit = ANY) -> None:
        self.e, self.sequences, self.limit = estimator, sequences, limit
        kinds = [[estimator.kinds[j][press] for j in jobs] for press, jobs in enumerate(sequences)]
        self.chosen = [estimator.settings.choose_kinds(press, mine) for press, mine in enumerate(kinds)]
        stands = [side.stands for side in estimator.instance.presses]
        hours = estimator.instance.open_hours
        self.at = [0] * len(sequences)
        self.free = [max([press.free, *press.lying]) for press in stands]
        self.setting: list[Setting | None] = [press.setting for press in stands]
        # the closing time of the day a press was last warmed up for
        self.until = [-1 if press.setting is None or press.warmed < 0 else hours[press.warmed][1] for press in stands]
        self.running = [-1] * len(sequences)  # each press's present job
        self.asks = [-1] * len(sequences)  # what it asks of the crew; nothing where it only waits for the job before it
        self.rest = [0.0] * len(sequences)  # seconds of it that are left, with hands enough
        self.left = [sum(estimator.cycle[j][p].seconds for j in jobs) for p, jobs in enumerate(sequences)]
        self.starts = [-1] * len(estimator.work.jobs)
        self.ends = [-1] * len(estimator.work.jobs)
        self.finish = [0] * len(estimator.instance.order_ids)
        self.late = 0.0
        self.changes = self.change_seconds = 0
        self.undone = sum(map(len, sequences))
        self.segment = 0
        self.least = Least(self)
        self.useless = limit.passed(0.0, self.least.work(0.0))

    def play(self) -> Estimate | None:
        """The figures; None where they would pass the limit. No job may wait for ever."""
        now: float = min(self.free)
        edges = self.e.edges
        while self.undone and not self.useless:
            while edges[self.segment + 1] <= now:
                self.segment += 1
            until = self._begin_all(now, edges[self.segment + 1])
            paces = self._paces()
            until = self._next_end(now, until, paces)
            self._pass(until - now, until, paces)
            now = until
        return None if self.useless else self._figures()

    def _begin_all(self, now: float, until: float) -> float:
        """What can begin begins; when the next of the others might, at most `until`."""
        for press, jobs in enumerate(self.sequences):
            if self.running[press] < 0 and self.at[press] < len(jobs):
                when = self._begin(press, now)
                if now < when < until:
                    until = when
        return until

    def _begin(self, press: int, now: float) -> float:
        """The press's next job begins now, or else the moment is given at which it might."""
        e, at = self.e, self.at[press]
        job = self.sequences[press][at]
        before = e.before[job]
        if before < 0:
            start = e.ready[job]
        elif self.starts[before] < 0:
            return FAR
        else:
            start = self.starts[before] + e.first_piece[before]
        start = max(start, self.free[press])
        if start > now:
            return start
        target = self.chosen[press][at]
        if self.setting[press] != target or self.free[press] >= self.until[press]:
            self._set(press, target)
            if self.free[press] > now:
                return self.free[press]
        if not e.opened[self.segment][press]:
            return FAR
        cycle = e.cycle[job][press]
        self.starts[job], self.at[press], self.running[press] = int(now), at + 1, job
        self.rest[press], self.asks[press] = cycle.seconds * e.friction, cycle.asks
        return now

    def _next_end(self, now: float, until: float, paces: tuple[float, ...]) -> float:
        """When the first of the jobs that run would end, at most `until`."""
        there = self.e.opened[self.segment]
        for press, job in enumerate(self.running):
            if job < 0:
                continue
            if self.asks[press] < 0:
                end = max(now, self._held(job))
            elif there[press]:
                end = now + self.rest[press] * paces[press]
            else:
                continue
            if end < until:
                until = end
        return until

    def _pass(self, seconds: float, now: float, paces: tuple[float, ...]) -> None:
        """So many seconds pass, and it is `now`."""
        there = self.e.opened[self.segment]
        for press, job in enumerate(self.running):
            if job < 0:
                continue
            if self.asks[press] >= 0:
                if not there[press]:
                    continue
                self.rest[press] -= seconds / paces[press]
                if self.rest[press] >= _DONE:
                    continue
                self.asks[press] = -1
            if self._held(job) <= now:
                self._end(press, job, int(now))

    def _held(self, job: int) -> int:
        """The soonest a job may end for the sake of the one before it."""
        before = self.e.before[job]
        if before < 0:
            return 0
        end = self.ends[before]
        return FAR if end < 0 else end + self.e.occupied[job]

    def _end(self, press: int, job: int, now: int) -> None:
        e = self.e
        cycle, order = e.cycle[job][press], e.orders[job]
        end, before = now + cycle.tail, self.finish[order]
        self.ends[job], self.free[press], self.running[press] = end, now, -1
        self.left[press] -= cycle.seconds
        self.undone -= 1
        if end > before:
            self.finish[order] = end
            weight, due = e.promised[order]
            if end > due:
                self.late += weight * (end - max(before, due))
        self.useless = self.limit.passed(self.late, self.least.work(now + e.friction * self.left[press]))

    def _paces(self) -> tuple[float, ...]:
        """How many times slower than with hands enough each press runs."""
        there = self.e.opened[self.segment]
        doing = tuple([asks if open_ else -1 for asks, open_ in zip(self.asks, there, strict=True)])
        return self.e.paces.of(self.segment, doing)

    def _set(self, press: int, target: Setting) -> None:
        """Warm up where a day begins for the press, else change where another setting is asked."""
        instance, now = self.e.instance, self.free[press]
        if now >= self.until[press]:
            today = next((i for i, (_, b) in enumerate(instance.open_hours) if now < b), -1)
            fresh = today <= 0 or (instance.standing and self.setting[press] is None)
            shown = instance.presses[press].at_start if fresh else instance.room
            opens, closes = instance.open_hours[today] if today >= 0 else (0, FAR)
            self.free[press] = max(now, opens) + instance.warm_up(press, shown, target)
            self.until[press] = closes
        elif self.setting[press] != target:
            before = self.setting[press]
            assert before is not None
            seconds = instance.set_seconds(press, before, target)
            self.changes += 1
            self.change_seconds += seconds
            self.free[press] += seconds
        self.setting[press] = target

    def _figures(self) -> Estimate:
        goals, done = self.e.instance.day.shop.goals, max(self.finish, default=0)
        work = goals.finish * done + goals.change * 60 * self.changes + self.change_seconds
        return Estimate(self.late, work, done, tuple(self.ends), tuple(self.starts), tuple(self.finish))


class Least:
    """What a run costs of the second goal at the least, seconds: its changes are known before it is played."""

    def __init__(self, run: Run) -> None:
        instance = run.e.instance
        self.goals, self.openings = instance.day.shop.goals, [opens for opens, _ in instance.open_hours[1:]]
        self.finish: float = run.e.floor
        self.changes = self.a_night = 0.0  # all changes; those at most that warming up for one more day stands for
        for press, chosen in enumerate(run.chosen):
            seconds = [instance.set_seconds(press, a, b) for a, b in itertools.pairwise(chosen) if a != b]
            self.changes += 60 * self.goals.change * len(seconds) + sum(seconds)
            self.a_night += 60 * self.goals.change + max(seconds, default=0)
            self.finish = max(self.finish, run.free[press] + run.e.friction * run.left[press] + sum(seconds))

    def work(self, finish: float) -> float:
        """At the least so much, where it is also known that it is not done before `finish`."""
        weight, changes, finish = self.goals.finish, self.changes, max(finish, self.finish)
        least = weight * finish + changes
        for opens in self.openings:
            changes = max(0.0, changes - self.a_night)
            if weight * opens + changes >= least:
                break
            least = min(least, weight * max(opens, finish) + changes)
        return least
