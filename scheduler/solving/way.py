"""What the ordered problem would do, as something a search may begin from. No plan: nothing in it has a time."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator

from scheduler.instance import Instance, Setting, Task
from scheduler.solving.bundles import Job, Work
from scheduler.solving.stretches import Stretches, Taking

Way = tuple[tuple[tuple[Setting, dict[int, int]], ...], ...]


def way(stretches: Stretches) -> Way | None:
    """For each press its settings in order, each with pieces of tasks by index; None where nothing was found.

    Pieces that stay on the platen where their tasks are apart count for each of these tasks, pieces that come off
    where their task is one count once. Where a line's task does not fit the press its pieces are left out.
    """
    solver = stretches.solved
    if solver is None:
        return None
    instance = stretches.instance
    left = Counter({task.index: instance.quantity(task.line) for task in instance.tasks})
    made: list[list[tuple[Setting, dict[int, int]]]] = [[] for _ in instance.presses]
    for stretch in stretches.stretches:
        cell = next(
            c for c, z in zip(stretches.cells[stretch.press], stretch.cell, strict=True) if solver.boolean_value(z)
        )
        pieces: Counter[int] = Counter()
        for taking in stretches.takings:
            if taking.stretch is stretch:
                pieces.update(_placed(stretches, taking, solver.value(taking.pieces), left))
        if pieces:
            made[stretch.press].append(((cell.low, cell.pressure), dict(pieces)))
    return tuple(tuple(stretch) for stretch in made)


def jobs_of(instance: Instance, work: Work, found: Way) -> list[list[int]]:
    """The way as jobs of the search: whole bundles, within a setting by due time."""
    queues: dict[int, list[int]] = defaultdict(list)
    for job in work.jobs:
        queues[job.task].append(job.index)
    place: dict[int, tuple[int, int]] = {}
    for press, stretches in enumerate(found):
        for number, (_, pieces) in enumerate(stretches):
            for task, amount in pieces.items():
                while queues[task] and amount * 2 >= work.jobs[queues[task][0]].pieces:
                    amount -= work.jobs[queues[task][0]].pieces
                    place[queues[task].pop(0)] = press, number
    for job in work.jobs:
        if job.index not in place:
            place[job.index] = _nearest(instance, place, work, job)
    latest = max((due for due in instance.due if due is not None), default=0) + 1
    sequences: list[list[tuple[int, int, int]]] = [[] for _ in instance.presses]
    for job in work.jobs:
        press, number = place[job.index]
        due = instance.due[instance.order_of[instance.tasks[job.task].line]]
        sequences[press].append((number, latest if due is None else due, job.index))
    return [[job for _, _, job in sorted(jobs)] for jobs in sequences]


def _nearest(instance: Instance, place: dict[int, tuple[int, int]], work: Work, job: Job) -> tuple[int, int]:
    """With another job of its task, or else at the end of the first press that takes it."""
    alike = next((place[x.index] for x in work.jobs if x.task == job.task and x.index in place), None)
    return alike or (min(instance.tasks[job.task].fits), len(work.jobs))


def _placed(stretches: Stretches, taking: Taking, pieces: int, left: Counter[int]) -> Counter[int]:
    """The tasks of the lines of a part that take these pieces, as far as they are not taken already."""
    placed: Counter[int] = Counter()
    for first in range(taking.run.first, taking.run.last + 1):
        rest = pieces
        for task in _beginning_at(stretches.instance, stretches.parts[taking.part].lines, taking, first):
            some = min(rest, left[task.index])
            if some:
                placed[task.index] += some
                left[task.index] -= some
                rest -= some
    return placed


def _beginning_at(instance: Instance, lines: tuple[int, ...], taking: Taking, first: int) -> Iterator[Task]:
    for line in lines:
        for task in instance.stages[line]:
            begins = task.steps[0].operation.number - 1 == first and task.placement == taking.placement
            if begins and taking.stretch.press in task.fits:
                yield task
