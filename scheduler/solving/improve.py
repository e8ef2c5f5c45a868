"""Large neighbourhoods: CP-SAT frees a part of the plan and puts the rest back in order around it."""

from __future__ import annotations

import itertools
import random
from collections import Counter, defaultdict
from collections.abc import Callable, Sequence
from statistics import median

from scheduler.solving.efforts import Effort
from scheduler.solving.incumbent import Incumbent
from scheduler.solving.local import align
from scheduler.solving.model import CampaignModel, Free
from scheduler.solving.model import Effort as SolveEffort
from scheduler.solving.view import View
from scheduler.timetable.record import Timetable

_WHOLE = 80  # up to so many jobs the whole day is freed


def neighbourhoods(best: Incumbent, view: View, effort: Effort, seed: int, stop: Callable[[], bool]) -> None:
    """Rounds of CP-SAT around the view's sequences; every answer is played, the best is kept by the incumbent."""
    rng = random.Random(seed + 1)
    for number in range(effort.rounds):
        if stop():
            return
        table = best.table
        assert table is not None
        free = _neighbourhood(view, number, rng)
        model = CampaignModel(
            view.instance, view.work, view.settings, view.estimator, paces(view, table), view.sequences, Free(free)
        )
        answer = model.solve(SolveEffort(effort.slice, seed=seed + number))
        if answer.sequences is None:
            continue
        found = view.estimator.run(answer.sequences)
        if found is None:
            continue
        sequences = align(view.work, answer.sequences, found)
        view.play(best, "neighbourhood", sequences)


def _neighbourhood(view: View, number: int, rng: random.Random) -> frozenset[int]:
    jobs = view.work.jobs
    if len(jobs) <= _WHOLE and number % 3 == 0:
        return frozenset(range(len(jobs)))
    kinds = (_window, _two_presses, _few_orders, _one_campaign)
    return kinds[number % len(kinds)](view, rng)


def _window(view: View, rng: random.Random) -> frozenset[int]:
    """What runs in a stretch of time, on all presses."""
    guess = view.guess(view.sequences)
    by_start = sorted(range(len(guess.starts)), key=lambda j: guess.starts[j])
    size = min(len(by_start), 40)
    first = rng.randint(0, len(by_start) - size)
    return frozenset(by_start[first : first + size])


def _two_presses(view: View, rng: random.Random) -> frozenset[int]:
    """Two presses, whole, or as much of them as is sensible."""
    busy = [p for p, jobs in enumerate(view.sequences) if jobs]
    chosen = rng.sample(busy, min(2, len(busy)))
    jobs = [j for p in chosen for j in view.sequences[p]]
    if len(jobs) > 60:
        first = rng.randint(0, len(jobs) - 60)
        jobs = jobs[first : first + 60]
    return frozenset(jobs)


def _few_orders(view: View, rng: random.Random) -> frozenset[int]:
    """Some orders, on whatever press they are."""
    orders = list(range(len(view.instance.order_ids)))
    rng.shuffle(orders)
    jobs: list[int] = []
    for order in orders:
        mine = [j.index for j in view.work.jobs if view.instance.order_of[view.instance.tasks[j.task].line] == order]
        if jobs and len(jobs) + len(mine) > 40:
            break
        jobs += mine
    return frozenset(jobs)


def _one_campaign(view: View, rng: random.Random) -> frozenset[int]:
    """One stretch at one setting, to be scattered over the others."""
    press = rng.choice([p for p, jobs in enumerate(view.sequences) if jobs])
    jobs = view.sequences[press]
    chosen = view.settings.choose(press, [view.estimator.fits[j][press] for j in jobs])
    setting = rng.choice(sorted(set(chosen)))
    return frozenset(j for j, s in zip(jobs, chosen, strict=True) if s == setting)


def paces(view: View, table: Timetable) -> Sequence[dict[int, int]]:
    """Each job's seconds on each press as they turned out in a played timetable, or else the least they can be."""
    gaps: dict[tuple[int, int], list[int]] = defaultdict(list)
    by_press: dict[int, list[tuple[int, int, int]]] = defaultdict(list)
    for loading in table.loadings:
        by_press[loading.press].append((loading.start, loading.script.task.index, len(loading.pieces)))
    for press, starts in by_press.items():
        starts.sort()
        for a, b in itertools.pairwise(starts):
            if a[1] == b[1]:
                gaps[a[1], press].append(b[0] - a[0])
    known = {key: median(values) for key, values in gaps.items() if len(values) >= 3}
    slow = _slowness(view, known)
    found = []
    for job, cycles in zip(view.work.jobs, view.estimator.cycle, strict=True):
        row = {}
        for press, (seconds, *_) in cycles.items():
            loads = -(-job.pieces // view.estimator.fits[job.index][press].capacity)
            each = known.get((job.task, press))
            row[press] = int(each * loads if each is not None else seconds * slow)
        found.append(row)
    return found


def _slowness(view: View, known: dict[tuple[int, int], float]) -> float:
    """How much longer than the least the known tasks took, on the median."""
    ratios = []
    seen: Counter[tuple[int, int]] = Counter()
    for job, cycles in zip(view.work.jobs, view.estimator.cycle, strict=True):
        for press, (seconds, *_) in cycles.items():
            key = (job.task, press)
            if key in known and not seen[key] and seconds:
                seen[key] += 1
                loads = -(-job.pieces // view.estimator.fits[job.index][press].capacity)
                ratios.append(known[key] * loads / seconds)
    return median(ratios) if ratios else 1.05
