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
_ROUGH = 1.4  # the most that friction is believed to be
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
        self.ready = [instance.ready[tasks[job.task].line] for job in work.jobs]
        self.fits = [tasks[job.task].fits for job in work.jobs]
        self.kinds = [{press: settings.kind(fit) for press, fit in fits.items()} for fits in self.fits]
        self.bias = [0] * len(instance.order_ids)  # how much later orders were done when last played
        self.margin = 0.0  # due times are drawn in by this share while searching, since the estimate is rough
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

    def people_at(self, now: int) -> float:
        """How many people are at work, in people of pace 1; a moment without any counts as the next with some."""
        at = bisect_right(self.moments, now) - 1
        while at < len(self.staff) - 1 and not self.staff[at]:
            at += 1
        return self.staff[at] or 1.0

    def learn(self, sequences: Sequences, order_finish: Sequence[int]) -> None:
        """Correct the pace, then the orders' finishes, by what these sequences came to when they were played."""
        guess = self.run(sequences)
        if guess is not None and guess.finish:
            ratio = max(order_finish) / guess.finish
            self.friction = min(_ROUGH, max(1.0, self.friction * ratio))
            guess = self.run(sequences)
        if guess is not None:
            self.bias = [true - rough for true, rough in zip(order_finish, guess.order_finish, strict=True)]

    def run(self, sequences: Sequences) -> Estimate | None:
        """Play the sequences; None where some job waits for one that comes after it for ever."""
        return _Run(self, sequences).play()


class _Run:
    def __init__(self, estimator: Estimator, sequences: Sequences) -> None:
        self.e = estimator
        self.sequences = sequences
        self.chosen: list[tuple[Setting, ...]] = []
        for press, jobs in enumerate(sequences):
            kinds = [estimator.kinds[j][press] for j in jobs]
            self.chosen.append(estimator.settings.choose_kinds(press, kinds))
        self.at = [0] * len(sequences)
        stands = [side.stands for side in estimator.instance.presses]
        self.free = [max([press.free, *press.lying]) for press in stands]
        self.setting: list[Setting | None] = [press.setting for press in stands]
        self.warm = [press.warmed for press in stands]
        self.starts = [-1] * len(estimator.work.jobs)
        self.ends = [-1] * len(estimator.work.jobs)
        self.changes = 0
        self.change_seconds = 0

    def play(self) -> Estimate | None:
        left = sum(len(jobs) for jobs in self.sequences)
        while left:
            press = self._next()
            if press < 0:
                return None
            self._place(press)
            left -= 1
        return self._figures()

    def _next(self) -> int:
        best, best_start = -1, 0
        for press, jobs in enumerate(self.sequences):
            if self.at[press] >= len(jobs):
                continue
            start = self._earliest(press, jobs[self.at[press]])
            if start is not None and (best < 0 or start < best_start):
                best, best_start = press, start
        return best

    def _earliest(self, press: int, job: int) -> int | None:
        before = self.e.before[job]
        if before < 0:
            return max(self.free[press], self.e.ready[job])
        if self.starts[before] < 0:
            return None
        return max(self.free[press], self.starts[before] + self.e.first_piece[before])

    def _place(self, press: int) -> None:
        e, job = self.e, self.sequences[press][self.at[press]]
        target = self.chosen[press][self.at[press]]
        start = self._earliest(press, job)
        assert start is not None
        self._set(press, target)
        start = max(start, self.free[press])
        seconds, _, _, tail = e.cycle[job][press]
        slow = self._slow(press, start)
        windows = e.windows[press]
        end = forward(windows, start, int(seconds * slow))
        if e.before[job] >= 0:
            end = max(end, self.ends[e.before[job]] + e.cycle[job][press][2])
        self.starts[job] = forward(windows, start, 0)
        self.ends[job] = end + tail
        self.free[press] = end
        self.at[press] += 1

    def _set(self, press: int, target: Setting) -> None:
        instance, now = self.e.instance, self.free[press]
        today = next((i for i, (_, b) in enumerate(instance.open_hours) if now < b), -1)
        if self.warm[press] != today or self.setting[press] is None:
            fresh = today <= 0 or (instance.standing and self.setting[press] is None)
            shown = instance.presses[press].at_start if fresh else instance.room
            opens = instance.open_hours[today][0] if today >= 0 else 0
            self.free[press] = max(now, opens) + instance.warm_up(press, shown, target)
            self.warm[press] = today
        elif self.setting[press] != target:
            before = self.setting[press]
            assert before is not None
            seconds = instance.set_seconds(press, before, target)
            self.changes += 1
            self.change_seconds += seconds
            self.free[press] += seconds
        self.setting[press] = target

    def _slow(self, press: int, now: int) -> float:
        asked = 0.0
        for p, jobs in enumerate(self.sequences):
            if self.at[p] < len(jobs):
                asked += self.e.cycle[jobs[self.at[p]]][p][1]
        load = asked / self.e.people_at(now)
        return 1.0 if load < _LIGHT else self.e.friction * float((1 + load**_BEND) ** (1 / _BEND))

    def _figures(self) -> Estimate:
        instance, goals = self.e.instance, self.e.instance.day.shop.goals
        finish = [0] * len(instance.order_ids)
        for job, end in zip(self.e.work.jobs, self.ends, strict=True):
            order = instance.order_of[instance.tasks[job.task].line]
            finish[order] = max(finish[order], end)
        late = sum(
            w * max(0, f - d) for w, f, d in zip(instance.priority, finish, instance.due, strict=True) if d is not None
        )
        done = max(finish, default=0)
        work = goals.finish * done + goals.change * 60 * self.changes + self.change_seconds
        return Estimate(late, work, done, tuple(self.ends), tuple(self.starts), tuple(finish))


def forward(windows: Spans, start: int, seconds: int) -> int:
    """The moment by which so many working seconds have passed from `start` on."""
    for opens, closes in windows:
        if closes <= start:
            continue
        begin = max(start, opens)
        if begin + seconds <= closes:
            return begin + seconds
        seconds -= closes - begin
    return max(start, windows[-1][1] if windows else 0) + seconds
