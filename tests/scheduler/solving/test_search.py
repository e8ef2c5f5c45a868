"""The rough estimate, the local search on it, and the campaign model: guides that never lose a job."""

from __future__ import annotations

import itertools
import random

import pytest

from scheduler.instance import Instance
from scheduler.intake import read_day
from scheduler.solving.bundles import Work
from scheduler.solving.estimate import Estimator
from scheduler.solving.incumbent import programme_of
from scheduler.solving.local import cost, search
from scheduler.solving.model import CampaignModel, Effort, Free
from scheduler.solving.settings import Settings
from scheduler.timetable.dispatch import dispatch
from scheduler.timetable.manner import Manner
from tests.reference.days import machines
from tests.scenarios.folders import NAMES, SCENARIOS
from tests.scheduler.days import at, instance_of, random_day, seeded

Best = tuple[Instance, Work, Settings, Estimator, list[list[int]]]


def best_seed(instance: Instance, jobs: int = 50) -> Best:
    """The seed with the least rough cost."""
    work, settings, estimator, sequences = seeded(instance, jobs)
    guesses = [(cost(guess), s) for s in sequences if (guess := estimator.run(s)) is not None]
    return instance, work, settings, estimator, min(guesses)[1]


def whole(instance: Instance, work: Work, sequences: list[list[int]]) -> bool:
    """Every job exactly once, on a press that takes it."""
    placed = sorted(itertools.chain.from_iterable(sequences))
    takes = all(
        press in instance.tasks[work.jobs[job].task].fits for press, jobs in enumerate(sequences) for job in jobs
    )
    return placed == [job.index for job in work.jobs] and takes


def muddled(estimator: Estimator, sequences: list[list[int]], rng: random.Random) -> list[list[int]]:
    """The same jobs on the same presses in a bad order that can still be played."""
    for _ in range(30):
        trial = [rng.sample(jobs, len(jobs)) for jobs in sequences]
        if estimator.run(trial) is not None:
            return trial
    return sequences


@pytest.mark.parametrize("seed", range(15))
def test_every_seed_places_every_job_where_it_fits(seed: int) -> None:
    """Whatever the two weights of the urgency rule."""
    instance = instance_of(random_day(seed))
    work, _, estimator, sequences = seeded(instance)
    assert sequences
    for s in sequences:
        assert whole(instance, work, s)
        assert estimator.run(s) is not None


@pytest.mark.parametrize("name", NAMES)
def test_the_estimate_of_a_scenarios_seed_is_near_its_timetable(name: str) -> None:
    """The finish the search reckons with is within a tenth of the one that is played as reckoned: in order, unaided."""
    instance, work, settings, estimator, sequences = best_seed(instance_of(read_day(SCENARIOS / name, None)))
    guess = estimator.run(sequences)
    assert guess is not None
    plan = programme_of(settings, work, sequences)
    table = dispatch(instance, plan, Manner("longest", keep_order=True, share=False))
    assert guess.finish == pytest.approx(table.finish, rel=0.1)


def test_an_estimate_refuses_jobs_that_wait_for_each_other() -> None:
    """A stage before the one it follows on the same press can never start: None, not a figure."""
    seed = next(n for n in range(100) if any(len(s) > 1 for s in instance_of(random_day(n)).stages))
    _, work, _, estimator, sequences = best_seed(instance_of(random_day(seed)))
    assert estimator.run(sequences) is not None
    later = next(job for job in work.jobs if job.before >= 0)
    press = next(p for p in estimator.fits[later.index] if p in estimator.fits[later.before])
    rest = [[j for j in s if j not in (later.index, later.before)] for s in sequences]
    rest[press] = [later.index, later.before, *rest[press]]
    assert estimator.run(rest) is None


@pytest.mark.parametrize("seed", range(15))
def test_a_search_is_never_worse_than_its_start(seed: int) -> None:
    """With more moves from the same start it costs the same or less, and still places every job where it fits."""
    instance, work, _, estimator, start = best_seed(instance_of(random_day(seed)), 30)
    guess = estimator.run(start)
    assert guess is not None
    before = cost(guess)
    for moves in (0, 7, 40, 80, 120, 160):
        found = search(estimator, start, moves, random.Random(seed))
        after = estimator.run(found)
        assert after is not None and cost(after) <= before + 1e-9
        assert whole(instance, work, found)
        before = cost(after)


def test_a_search_is_the_same_for_the_same_seed() -> None:
    """Moves are counted, not timed: the same random numbers find the same sequences."""
    *_, estimator, start = best_seed(instance_of(random_day(11)), 30)
    first, second = (search(estimator, start, 200, random.Random(5)) for _ in range(2))
    assert first == second


@pytest.mark.parametrize("seed", [0, 1, 3, 4, 6])
def test_the_campaign_model_never_loses_a_job_and_keeps_what_is_not_free(seed: int) -> None:
    """Every job once on a press that takes it; jobs that are not free stay on their press in their order."""
    instance, work, settings, estimator, sequences = best_seed(instance_of(random_day(seed)), 20)
    paces = [{press: cycle[0] for press, cycle in cycles.items()} for cycles in estimator.cycle]
    rng = random.Random(seed)
    sequences = muddled(estimator, sequences, rng)
    count = len(work.jobs)
    for free in (frozenset(range(count)), frozenset(rng.sample(range(count), count // 2)), frozenset[int]()):
        model = CampaignModel(instance, work, settings, estimator, paces, sequences, Free(free))
        answer = model.solve(Effort(0.3))
        if answer.sequences is None:
            continue
        assert whole(instance, work, answer.sequences)
        assert answer.bound <= answer.value + 1e-6
        for mine, theirs in zip(sequences, answer.sequences, strict=True):
            assert [j for j in theirs if j not in free] == [j for j in mine if j not in free]


@pytest.mark.parametrize("seed", [0, 1, 3, 4, 6])
def test_the_campaign_model_is_never_worse_than_what_it_is_given(seed: int) -> None:
    """The incumbent is a whole solution of the model: with nothing free it is found at once, with all free not lost."""
    instance, work, settings, estimator, sequences = best_seed(instance_of(random_day(seed)), 20)
    paces = [{press: cycle[0] for press, cycle in cycles.items()} for cycles in estimator.cycle]

    def solved(free: frozenset[int]) -> float:
        model = CampaignModel(instance, work, settings, estimator, paces, sequences, Free(free))
        answer = model.solve(Effort(0.5))
        assert answer.sequences is not None
        return answer.value

    kept = solved(frozenset())
    assert solved(frozenset(range(len(work.jobs)))) <= kept + 1e-6


def test_what_is_not_free_keeps_its_order_even_where_another_pays() -> None:
    """The second order is urgent and the first is not: they change places only where they are free to."""
    made = machines([100, 100, 100], 1, [{"due": at(20)}, {"due": at(1.7)}, {}])
    instance, work, settings, estimator, _ = best_seed(instance_of(made))
    paces = [{press: cycle[0] for press, cycle in cycles.items()} for cycles in estimator.cycle]

    def order(free: set[int]) -> list[int]:
        model = CampaignModel(instance, work, settings, estimator, paces, [[0, 1, 2]], Free(frozenset(free)))
        answer = model.solve(Effort(1))
        assert answer.sequences is not None
        return answer.sequences[0]

    assert order({0, 1, 2})[0] == 1
    kept = order({2})
    assert kept.index(0) < kept.index(1)
