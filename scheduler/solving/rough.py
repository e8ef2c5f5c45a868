"""One rough playing of sequences: between two events every press runs at a rate of its own.

A search has no use for most of what it tries: a playing ends as soon as that is sure, by what is late so far, the
changes there are to be, and the work each press has left. And what it tries is mostly what it has: a playing begins
where it first differs from a recorded one.
"""

from __future__ import annotations

from bisect import insort
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from scheduler.instance import Setting
from scheduler.solving.ahead import Least
from scheduler.solving.states import Record, State
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


class Run:
    """Presses with their jobs, from now on."""

    def __init__(
        self, estimator: Estimator, sequences: Sequences, limit: Limit = ANY, record: Record | None = None
    ) -> None:
        e = self.e = estimator
        self.limit = limit
        if record is None:
            self.rows = [e.row(press, jobs) for press, jobs in enumerate(sequences)]
        else:
            self.rows = [
                row if row.jobs == jobs else e.row(press, jobs)
                for press, (row, jobs) in enumerate(zip(record.rows, sequences, strict=True))
            ]
        past = [] if record is None else record.states
        self.state = past[0] if past else State(e)
        self.least = Least(e.instance, self.rows, self.state.free, e.drag, e.floor)
        self.useless = limit.passed(0.0, self.least.work(0.0))
        self.event = 0  # of the record, before which it goes on
        if record is not None and past and not self.useless:
            self.event = record.parting(self.rows)
            self.state = past[self.event].copy()

    def play(self, record: Record | None = None) -> Estimate | None:
        """The figures; None where they would pass the limit. No job may wait for ever. `record`: to be written on."""
        state, edges = self.state, self.e.edges
        self._sort_out()
        self.undone = sum(len(row.jobs) - at for row, at in zip(self.rows, state.at, strict=True)) + len(self.busy)
        while self.undone and not self.useless:
            if record is not None:
                record.note(state)
            now = state.now
            while edges[state.segment + 1] <= now:
                state.segment += 1
            until = self._begin_all(now, edges[state.segment + 1])
            paces = self._paces()
            until = self._next_end(now, until, paces)
            self._pass(until - now, until, paces)
            state.now = until
        return None if self.useless else self._figures()

    def _sort_out(self) -> None:
        """Which presses are at work, which have work but are not, and until when these surely wait."""
        state = self.state
        self.busy = [press for press, job in enumerate(state.running) if job >= 0]
        self.idle = [
            press
            for press, (job, at, row) in enumerate(zip(state.running, state.at, self.rows, strict=True))
            if job < 0 and at < len(row.jobs)
        ]
        self.wait: list[float] = [0] * len(self.rows)

    def _begin_all(self, now: float, until: float) -> float:
        """What can begin begins; when the next of the others might, at most `until`."""
        begun, wait = False, self.wait
        for press in self.idle:
            when = wait[press]
            if when <= now:
                when = self._begin(press, now)
                if when <= now:
                    begun = True
                    insort(self.busy, press)
                    continue
                if when < FAR:
                    wait[press] = when
            if when < until:
                until = when
        if begun:
            running = self.state.running
            self.idle = [press for press in self.idle if running[press] < 0]
        return until

    def _begin(self, press: int, now: float) -> float:
        """The press's next job begins now, or else the moment is given at which it might."""
        e, state, row = self.e, self.state, self.rows[press]
        at = state.at[press]
        job = row.jobs[at]
        before = e.before[job]
        if before < 0:
            start = e.ready[job]
        else:
            start = state.starts[before]
            if start < 0:
                return FAR
            start += e.first_piece[before]
        free = state.free[press]
        if start < free:
            start = free
        if start > now:
            return start
        target = row.chosen[at]
        if state.setting[press] != target or free >= state.until[press]:
            self._set(press, target)
            if state.free[press] > now:
                return state.free[press]
        if not e.opened[state.segment][press]:
            return FAR
        cycle = e.cycle[job][press]
        state.starts[job], state.at[press], state.running[press] = int(now), at + 1, job
        state.rest[press], state.asks[press] = cycle.seconds * e.drag[press], cycle.asks
        return now

    def _next_end(self, now: float, until: float, paces: tuple[float, ...]) -> float:
        """When the first of the jobs that run would end, at most `until`."""
        state = self.state
        there, asks, rest = self.e.opened[state.segment], state.asks, state.rest
        for press in self.busy:
            if asks[press] < 0:
                end = max(now, self._held(state.running[press]))
            elif there[press]:
                end = now + rest[press] * paces[press]
            else:
                continue
            if end < until:
                until = end
        return until

    def _pass(self, seconds: float, now: float, paces: tuple[float, ...]) -> None:
        """So many seconds pass, and it is `now`."""
        state = self.state
        there, asks, rest = self.e.opened[state.segment], state.asks, state.rest
        for press in self.busy:
            if asks[press] >= 0:
                if not there[press]:
                    continue
                rest[press] = left = rest[press] - seconds / paces[press]
                if left >= _DONE:
                    continue
                asks[press] = -1
            job = state.running[press]
            if self._held(job) <= now:
                self._end(press, job, int(now))

    def _held(self, job: int) -> int:
        """The soonest a job may end for the sake of the one before it."""
        before = self.e.before[job]
        if before < 0:
            return 0
        end = self.state.ends[before]
        return FAR if end < 0 else end + self.e.occupied[job]

    def _end(self, press: int, job: int, now: int) -> None:
        e, state = self.e, self.state
        cycle, order = e.cycle[job][press], e.orders[job]
        end, before = now + cycle.tail, state.finish[order]
        state.ends[job], state.free[press], state.running[press] = end, now, -1
        state.worked[press] += cycle.seconds
        self.undone -= 1
        if end > before:
            state.finish[order] = end
            weight, promised = e.promised[order]
            if end > promised:
                sooner = e.lateness(order, before) if before > promised else 0
                state.late += weight * (e.lateness(order, end) - sooner)
        self.busy = [other for other in self.busy if other != press]
        row = self.rows[press]
        if state.at[press] < len(row.jobs):
            insort(self.idle, press)
        self.useless = self.limit.passed(
            state.late, self.least.work(now + e.drag[press] * (row.seconds - state.worked[press]))
        )

    def _paces(self) -> tuple[float, ...]:
        """How many times slower than with hands enough each press runs."""
        state, e = self.state, self.e
        if e.all_open[state.segment]:
            return e.paces.of(state.segment, tuple(state.asks))
        there = e.opened[state.segment]
        doing = tuple([asks if open_ else -1 for asks, open_ in zip(state.asks, there, strict=True)])
        return e.paces.of(state.segment, doing)

    def _set(self, press: int, target: Setting) -> None:
        """Warm up where a day begins for the press, else change where another setting is asked."""
        instance, state = self.e.instance, self.state
        now = state.free[press]
        if now >= state.until[press]:
            today = next((i for i, (_, b) in enumerate(instance.open_hours) if now < b), -1)
            fresh = today <= 0 or (instance.standing and state.setting[press] is None)
            shown = instance.presses[press].at_start if fresh else instance.room
            opens, closes = instance.open_hours[today] if today >= 0 else (0, FAR)
            state.free[press] = max(now, opens) + instance.warm_up(press, shown, target)
            state.until[press] = closes
        elif state.setting[press] != target:
            before = state.setting[press]
            assert before is not None
            seconds = instance.set_seconds(press, before, target)
            state.changes += 1
            state.change_seconds += seconds
            state.free[press] += seconds
        state.setting[press] = target

    def _figures(self) -> Estimate:
        goals, state = self.e.instance.day.shop.goals, self.state
        done = max(state.finish, default=0)
        work = goals.finish * done + goals.change * 60 * state.changes + state.change_seconds
        return Estimate(state.late, work, done, tuple(state.ends), tuple(state.starts), tuple(state.finish))
