"""How much slower than it would seem each press is beside the others, by a plan that was played.

Where hands are short some presses get less of them: one that opens by itself can wait for somebody, one that is opened
by hand can't.
"""

from __future__ import annotations

import itertools
from collections import defaultdict
from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

from scheduler.solving.rough import Estimate
from scheduler.timetable.record import Loading, Timetable

if TYPE_CHECKING:
    from scheduler.solving.estimate import Estimator

_FEW = 20  # of so many loadings half is believed
_BELIEF = 0.5  # a power, as for the pace of all
_LEAST, _MOST = 0.7, 1.5
_STALL = 4.0  # times as long as it would seem: a press stood still meanwhile for reasons of its own


def leaning(estimator: Estimator, sequences: Sequence[Sequence[int]], guess: Estimate, table: Timetable) -> list[float]:
    """Each press's share of the pace of all, corrected by what sequences came to when they were played."""
    mine: dict[int, list[Loading]] = defaultdict(list)
    for loading in sorted(table.loadings, key=lambda loading: loading.start):
        mine[loading.press].append(loading)
    seen = [_seen(estimator, press, jobs, guess, mine[press]) for press, jobs in enumerate(sequences)]
    took, would = sum(s.took for s in seen), sum(s.would for s in seen)
    lean = list(estimator.lean)
    for press, s in enumerate(seen):
        if s.took and s.would:
            ratio = s.took / took * would / s.would
            lean[press] *= ratio ** (_BELIEF * s.loadings / (s.loadings + _FEW))
            lean[press] = min(_MOST, max(_LEAST, lean[press]))
    return lean


class _Seen(NamedTuple):
    """From one loading of a task to its next: how many there are, the working seconds they took and would have."""

    loadings: int
    took: float
    would: float


def _seen(estimator: Estimator, press: int, jobs: Sequence[int], guess: Estimate, loadings: Sequence[Loading]) -> _Seen:
    work = estimator.axis.work
    spans: dict[int, list[float]] = defaultdict(lambda: [0.0, 0.0])  # of each task: seconds, loadings
    for job in jobs:
        cycle = estimator.cycle[job][press]
        span = spans[estimator.work.jobs[job].task]
        span[0] += work(guess.ends[job]) - cycle.tail - work(guess.starts[job])
        span[1] += cycle.seconds / cycle.each
    each = {task: seconds / loads for task, (seconds, loads) in spans.items()}
    number, took, would = 0, 0.0, 0.0
    for one, other in itertools.pairwise(loadings):
        task = one.script.task.index
        seconds = work(other.start) - work(one.start)
        if task == other.script.task.index and task in each and seconds < _STALL * each[task]:
            number, took, would = number + 1, took + seconds, would + each[task]
    return _Seen(number, took, would)
