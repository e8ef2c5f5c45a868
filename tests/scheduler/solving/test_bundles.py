"""Bundles: a line is cut into parts that travel together; nothing is lost or cut below a full loading."""

from __future__ import annotations

from collections import Counter

import pytest

from scheduler.solving.bundles import cut
from tests.scheduler.breakdown.days import TEE, film, pile
from tests.scheduler.days import day, instance_of, random_day


@pytest.mark.parametrize("seed", range(20))
@pytest.mark.parametrize("jobs", [1, 12, 60])
def test_every_piece_is_in_one_bundle_and_every_bundle_goes_through_every_stage(seed: int, jobs: int) -> None:
    """The bundles of a line add up to its quantity; each has a job for each stage, after that of the stage before."""
    instance = instance_of(random_day(seed))
    work = cut(instance, jobs)
    pieces: Counter[int] = Counter()
    for bundle in work.bundles:
        pieces[bundle.line] += bundle.pieces
        mine = [job for job in work.jobs if job.bundle == bundle.index]
        assert [job.task for job in mine] == [task.index for task in instance.stages[bundle.line]]
        assert [job.before for job in mine] == [-1, *(job.index for job in mine[:-1])]
        assert all(job.pieces == bundle.pieces > 0 for job in mine)
    assert [pieces[n] for n in range(len(instance.lines))] == [line.quantity for line in instance.lines]


@pytest.mark.parametrize("quantity", [1, 3, 4, 5, 17, 40])
@pytest.mark.parametrize("jobs", [1, 3, 7, 100])
def test_only_the_last_bundle_ends_with_a_part_loading(quantity: int, jobs: int) -> None:
    """With four pieces a loading, every bundle but the last is a multiple of four."""
    made = day([film("a")], {"d": {"front": [pile("a")]}}, [("d", quantity)], garments=[{**TEE, "footprint": [8, 10]}])
    sizes = [bundle.pieces for bundle in cut(instance_of(made), jobs).bundles]
    assert sum(sizes) == quantity
    assert all(size % 4 == 0 for size in sizes[:-1])
    assert len(sizes) <= max(1, jobs)
