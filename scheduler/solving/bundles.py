"""Bundles: pieces of a line that travel together through its stages."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from scheduler.instance import Instance, Task


@dataclass(frozen=True, slots=True)
class Bundle:
    """So many pieces of a line; `index` counts over the day."""

    index: int
    line: int
    pieces: int


@dataclass(frozen=True, slots=True)
class Job:
    """One stage of a bundle: the unit that goes to a press. `before` is the job of the stage before, or -1."""

    index: int
    bundle: int
    task: int
    pieces: int
    before: int


@dataclass(frozen=True)
class Work:
    """All bundles and jobs of a day at one grain. Jobs of a bundle follow each other, first stage first."""

    bundles: tuple[Bundle, ...]
    jobs: tuple[Job, ...]


def cut(instance: Instance, most_jobs: int) -> Work:
    """Cut the lines into bundles, alike in hand and press time, so that about `most_jobs` jobs come of it.

    A bundle never breaks up a full loading. Every line gives at least one bundle.
    """
    weights = [_seconds(instance.stages[line]) * instance.quantity(line) for line in range(len(instance.lines))]
    stages = [len(tasks) for tasks in instance.stages]
    spare = max(sum(stages), most_jobs - sum(stages))  # each line in two bundles or so at least
    share = sum(w * s for w, s in zip(weights, stages, strict=True)) or 1.0
    bundles: list[Bundle] = []
    jobs: list[Job] = []
    for line, tasks in enumerate(instance.stages):
        count = 1 + int(spare * weights[line] / share)
        for pieces in _parts(instance.quantity(line), count, _grain(tasks)):
            bundle = Bundle(len(bundles), line, pieces)
            bundles.append(bundle)
            before = -1
            for task in tasks:
                jobs.append(Job(len(jobs), bundle.index, task.index, pieces, before))
                before = jobs[-1].index
    return Work(tuple(bundles), tuple(jobs))


@dataclass(frozen=True, slots=True)
class Place:
    """So many pieces of a task on a press; `key` puts places in order."""

    key: int
    press: int
    pieces: int


def jobs_at(work: Work, presses: int, places: Mapping[int, Sequence[Place]]) -> list[list[int]]:
    """Each press's jobs in order. `places` of each task, by index: a job goes where the first of its pieces lies,
    and never before the stage it comes after. Jobs of tasks that have no place are left out."""
    keys: list[tuple[int, int]] = []
    begun: Counter[int] = Counter()
    for job in work.jobs:
        if job.task not in places:
            keys.append((0, -1))
            continue
        home = _holding(places[job.task], begun[job.task])
        begun[job.task] += job.pieces
        keys.append((max(home.key, keys[job.before][0] + 1 if job.before >= 0 else 0), home.press))
    found: list[list[int]] = [[] for _ in range(presses)]
    for number in sorted(range(len(keys)), key=lambda n: (keys[n][0], n)):
        if keys[number][1] >= 0:
            found[keys[number][1]].append(number)
    return found


def _holding(places: Sequence[Place], at: int) -> Place:
    """The place in which the piece at this number of its task lies."""
    for place in places:
        if at < place.pieces:
            return place
        at -= place.pieces
    return places[-1]


def _seconds(tasks: Sequence[Task]) -> float:
    return sum(t.load + t.unload + sum(s.align + s.dwell + s.peel for s in t.steps) for t in tasks)


def _grain(tasks: Sequence[Task]) -> int:
    """Pieces of the largest loading any press takes of the line."""
    return max((fit.capacity for task in tasks for fit in task.fits.values()), default=1)


def _parts(quantity: int, count: int, grain: int) -> list[int]:
    """Near-equal parts, each but the last a whole number of full loadings."""
    loads = math.ceil(quantity / grain)
    count = max(1, min(count, loads))
    sizes = [(loads * (i + 1) // count - loads * i // count) * grain for i in range(count)]
    sizes[-1] -= sum(sizes) - quantity
    return [size for size in sizes if size > 0]
