"""One rough playing of sequences: between two events every press runs at a rate of its own."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from scheduler.instance import Setting
from scheduler.timetable.acts import FAR

if TYPE_CHECKING:
    from scheduler.solving.estimate import Estimator, Sequences

_BEND = 6.0  # how sharply presses slow down as hands run out; fitted to dispatched days
_UNBEND = 1 / _BEND
_LIGHT = 0.5  # below this share of the hands nobody waits
_STARVED = 50.0  # how many times slower a press runs at the most
_DONE = 0.5  # seconds: with less left a job is done


class Cycle(NamedTuple):
    """A job on a press: `seconds` of it all with hands enough, and the `share` of a person it asks for; of one
    loading the seconds on the press (`occupied`), from there to its last peel (`tail`), and to the next (`each`)."""

    seconds: int
    share: float
    occupied: int
    tail: int
    each: int


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

    def __init__(self, estimator: Estimator, sequences: Sequences) -> None:
        self.e, self.sequences = estimator, sequences
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
        self.rest = [0.0] * len(sequences)  # seconds of it that are left, with hands enough
        self.share = [0.0] * len(sequences)  # hands it asks for; none where it only waits for the job before it
        self.each = [1] * len(sequences)
        self.left = [sum(estimator.cycle[j][p].seconds for j in jobs) for p, jobs in enumerate(sequences)]
        self.starts = [-1] * len(estimator.work.jobs)
        self.ends = [-1] * len(estimator.work.jobs)
        self.changes = self.change_seconds = 0
        self.undone = sum(map(len, sequences))
        self.segment = 0

    def play(self) -> Estimate | None:
        """The figures; None where some job waits for ever."""
        now: float = min(self.free)
        edges = self.e.edges
        while self.undone:
            while edges[self.segment + 1] <= now:
                self.segment += 1
            until = self._begin_all(now, edges[self.segment + 1])
            paces = self._paces()
            until = self._next_end(now, until, paces)
            if until >= FAR:
                return None
            self._pass(until - now, until, paces)
            now = until
        return self._figures()

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
        self.rest[press], self.share[press], self.each[press] = cycle.seconds, cycle.share, cycle.each
        return now

    def _next_end(self, now: float, until: float, paces: list[float]) -> float:
        """When the first of the jobs that run would end, at most `until`."""
        there = self.e.opened[self.segment]
        for press, job in enumerate(self.running):
            if job < 0:
                continue
            if not self.share[press]:
                end = max(now, self._held(job))
            elif there[press]:
                end = now + self.rest[press] * paces[press]
            else:
                continue
            if end < until:
                until = end
        return until

    def _pass(self, seconds: float, now: float, paces: list[float]) -> None:
        """So many seconds pass, and it is `now`."""
        there = self.e.opened[self.segment]
        for press, job in enumerate(self.running):
            if job < 0:
                continue
            if self.share[press]:
                if not there[press]:
                    continue
                self.rest[press] -= seconds / paces[press]
                if self.rest[press] >= _DONE:
                    continue
                self.share[press] = 0.0
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
        cycle = self.e.cycle[job][press]
        self.ends[job], self.free[press], self.running[press] = now + cycle.tail, now, -1
        self.left[press] -= cycle.seconds
        self.undone -= 1

    def _paces(self) -> list[float]:
        """How many times slower than with hands enough each press runs."""
        there, staff = self.e.opened[self.segment], self.e.staff[self.segment]
        on = [press for press, job in enumerate(self.running) if job >= 0 and there[press] and self.share[press]]
        paces = [self.e.friction] * len(self.running)
        if sum(self.share[press] for press in on) < _LIGHT * staff:
            return paces
        if self.e.serve == "longest":
            self._one_by_one(on, staff, paces)
        else:
            self._some_first(on, staff, paces)
        return paces

    def _one_by_one(self, on: list[int], staff: float, paces: list[float]) -> None:
        """Hands come to each press in turn, a loading at a time: all that are slowed share one cycle."""
        on.sort(key=self.each.__getitem__)
        spare = staff - sum(self.share[press] for press in on)
        hands = cycle = 0.0
        for number, press in enumerate(on, 1):
            hands += self.share[press] * self.each[press]
            spare += self.share[press]
            if spare > 0:
                cycle = hands / spare
                if number == len(on) or cycle <= self.each[on[number]]:
                    break
        for press in on:
            paces[press] *= (1.0 + (cycle / self.each[press]) ** _BEND) ** _UNBEND

    def _some_first(self, on: list[int], staff: float, paces: list[float]) -> None:
        """Hands go to the press with most left to do, or whose order is due first, and what is left to the next."""
        due, left, running = self.e.due, self.left, self.running
        on.sort(key=(lambda p: -left[p]) if self.e.serve == "most" else (lambda p: due[running[p]]))
        for press in on:
            share = self.share[press]
            slow = min(_STARVED, (1.0 + (share / max(staff, 0.01)) ** _BEND) ** _UNBEND)
            paces[press] *= slow
            staff -= share / slow

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
        instance, goals = self.e.instance, self.e.instance.day.shop.goals
        finish = [0] * len(instance.order_ids)
        for order, end in zip(self.e.orders, self.ends, strict=True):
            if end > finish[order]:
                finish[order] = end
        slip = self.e.slip
        late = sum(weight * max(0.0, finish[order] + slip[order] - due) for order, weight, due in self.e.promised)
        done = max(finish, default=0)
        work = goals.finish * done + goals.change * 60 * self.changes + self.change_seconds
        return Estimate(late, work, done, tuple(self.ends), tuple(self.starts), tuple(finish))
