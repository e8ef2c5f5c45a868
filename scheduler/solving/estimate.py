"""What a sequence of jobs on each press comes to, roughly and fast: the search's guide, never the plan's figure.

Jobs run one after another on their press at the pace the hands allow: where the presses still at work ask for
more hands than are there, all of them slow down together.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass

from scheduler.calendar import Spans, common, union
from scheduler.instance import Instance, PressSide, Setting
from scheduler.solving.bundles import Job, Work
from scheduler.solving.settings import Settings

Sequences = Sequence[Sequence[int]]  # job indices for each press, in order

_BEND = 6.0  # how sharply presses slow down as hands run out; fitted to dispatched days
_UNBEND = 1 / _BEND
_ROUGH = 1.4  # the most that friction is believed to be
_FAR = 1 << 60
_LIGHT = 0.5  # below this share of the hands nobody waits


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


class Estimator:
    """Rough times for sequences of one day's jobs."""

    def __init__(self, instance: Instance, work: Work, settings: Settings) -> None:
        self.instance, self.work, self.settings = instance, work, settings
        tasks = instance.tasks
        self.cycle: list[dict[int, tuple[int, float, int, int]]] = []
        for job in work.jobs:
            task = tasks[job.task]
            self.cycle.append({p: self._cycle(job, p) for p in task.fits})
        self.first_piece = [min(c[2] + c[3] for c in cycles.values()) for cycles in self.cycle]
        self.before = [job.before for job in work.jobs]
        self.orders = [instance.order_of[tasks[job.task].line] for job in work.jobs]
        self.ready = [instance.ready[tasks[job.task].line] for job in work.jobs]
        self.fits = [tasks[job.task].fits for job in work.jobs]
        self.kinds = [{press: settings.kind(fit) for press, fit in fits.items()} for fits in self.fits]
        self.draw_in(0.0)
        self.windows = [self._windows(press) for press in instance.presses]
        self.friction = 1.0  # how much longer work takes than hands and presses alone would need
        self._staff()

    def _cycle(self, job: Job, press: int) -> tuple[int, float, int, int]:
        """(press seconds of the whole job, hands' share while it runs, one loading's seconds, its tail)."""
        instance, task = self.instance, self.instance.tasks[job.task]
        fit = task.fits[press]
        loads = -(-job.pieces // fit.capacity)
        one = instance.timing(task, press, min(job.pieces, fit.capacity), fit.lo)
        side = instance.presses[press]
        each = one.occupied
        if side.stations > 1:
            each = max(one.closed + (0 if side.auto_open else 4), -(-one.occupied // side.stations))
        return each * loads, one.hands / each, one.occupied, one.tail

    def _windows(self, press: PressSide) -> Spans:
        """When a press and somebody who runs it are both there."""
        hands = union(span for who in self.instance.people if press.index in who.presses for span in who.windows)
        return common(press.windows, hands)

    def _staff(self) -> None:
        """How much work the people do at each time, counted in people of pace 1."""
        moments = sorted({0, *(t for who in self.instance.people for span in who.windows for t in span)})
        self.moments = moments
        self.staff = [
            sum(1 / who.pace for who in self.instance.people if any(a <= t < b for a, b in who.windows))
            for t in moments
        ]
        for at in range(len(moments) - 2, -1, -1):
            self.staff[at] = self.staff[at] or self.staff[at + 1]

    def people_at(self, now: int) -> float:
        """How many people are at work, in people of pace 1; a moment without any counts as the next with some."""
        return self.staff[bisect_right(self.moments, now) - 1] or 1.0

    def learn(self, sequences: Sequences, order_finish: Sequence[int]) -> None:
        """Correct the pace by what these sequences came to when they were played."""
        guess = self.run(sequences)
        if guess is not None and guess.finish:
            ratio = max(order_finish) / guess.finish
            self.friction = min(_ROUGH, max(1.0, self.friction * ratio))

    def draw_in(self, margin: float) -> None:
        """Draw due times in by a share while searching, since the estimate is rough."""
        self.promised = [
            (order, weight, due * (1 - margin))
            for order, (weight, due) in enumerate(zip(self.instance.priority, self.instance.due, strict=True))
            if due is not None
        ]

    def run(self, sequences: Sequences) -> Estimate | None:
        """Play the sequences; None where some job waits for one that comes after it for ever."""
        return _Run(self, sequences).play()


class _Run:
    def __init__(self, estimator: Estimator, sequences: Sequences) -> None:
        self.e = estimator
        self.sequences = sequences
        self.chosen: list[tuple[Setting, ...]] = []
        self.cycles: list[list[tuple[int, float, int, int]]] = []
        for press, jobs in enumerate(sequences):
            kinds = [estimator.kinds[j][press] for j in jobs]
            self.chosen.append(estimator.settings.choose_kinds(press, kinds))
            self.cycles.append([estimator.cycle[j][press] for j in jobs])
        self.awaited: dict[int, int] = {}  # jobs that a press's next job waits for, and that press
        self.at = [0] * len(sequences)
        hours = estimator.instance.open_hours
        stands = [side.stands for side in estimator.instance.presses]
        self.free = [max([press.free, *press.lying]) for press in stands]
        self.setting: list[Setting | None] = [press.setting for press in stands]
        # the closing time of the day a press was last warmed up for
        self.until = [-1 if press.setting is None or press.warmed < 0 else hours[press.warmed][1] for press in stands]
        self.starts = [-1] * len(estimator.work.jobs)
        self.ends = [-1] * len(estimator.work.jobs)
        self.changes = 0
        self.change_seconds = 0
        self.asked = 0.0  # hands that the presses' present jobs ask for
        for cycles in self.cycles:
            if cycles:
                self.asked += cycles[0][1]

    def play(self) -> Estimate | None:
        heads = [self._earliest(press) for press in range(len(self.sequences))]  # when each next job could start
        for _ in range(sum(map(len, self.sequences))):
            start = min(heads)
            if start >= _FAR:
                return None
            press = heads.index(start)
            job = self._place(press, start)
            heads[press] = self._earliest(press)
            other = self.awaited.get(job)
            if other is not None:
                heads[other] = self._earliest(other)
        return self._figures()

    def _earliest(self, press: int) -> int:
        at, jobs = self.at[press], self.sequences[press]
        if at == len(jobs):
            return _FAR
        job = jobs[at]
        before = self.e.before[job]
        if before < 0:
            there = self.e.ready[job]
        else:
            there = self.starts[before]
            if there < 0:
                self.awaited[before] = press
                return _FAR
            there += self.e.first_piece[before]
        free = self.free[press]
        return there if there > free else free

    def _place(self, press: int, start: int) -> int:
        """The press's next job is done from `start` on, or when it is set for it; that job comes back."""
        e, at = self.e, self.at[press]
        job, target = self.sequences[press][at], self.chosen[press][at]
        if self.setting[press] != target or self.free[press] >= self.until[press]:
            self._set(press, target)
            start = max(start, self.free[press])
        cycles = self.cycles[press]
        seconds, share, occupied, tail = cycles[at]
        load = self.asked / e.people_at(start)
        if load >= _LIGHT:
            seconds = int(seconds * e.friction * (1.0 + load**_BEND) ** _UNBEND)
        begin, end = forward(e.windows[press], start, seconds)
        before = e.before[job]
        if before >= 0 and self.ends[before] + occupied > end:
            end = self.ends[before] + occupied
        self.starts[job], self.ends[job], self.free[press] = begin, end + tail, end
        self.at[press] = at = at + 1
        self.asked -= share
        if at < len(cycles):
            self.asked += cycles[at][1]
        return job

    def _set(self, press: int, target: Setting) -> None:
        """Warm up where a day begins for the press, else change where another setting is asked."""
        instance, now = self.e.instance, self.free[press]
        if now >= self.until[press]:
            today = next((i for i, (_, b) in enumerate(instance.open_hours) if now < b), -1)
            fresh = today <= 0 or (instance.standing and self.setting[press] is None)
            shown = instance.presses[press].at_start if fresh else instance.room
            opens, closes = instance.open_hours[today] if today >= 0 else (0, _FAR)
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
        late = sum(weight * max(0.0, finish[order] - due) for order, weight, due in self.e.promised)
        done = max(finish, default=0)
        work = goals.finish * done + goals.change * 60 * self.changes + self.change_seconds
        return Estimate(late, work, done, tuple(self.ends), tuple(self.starts), tuple(finish))


def forward(windows: Spans, start: int, seconds: int) -> tuple[int, int]:
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
