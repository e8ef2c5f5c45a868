"""What is known of sequences before they are played: settings, changes, work, and so what they cost at the least."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from typing import NamedTuple

from scheduler.instance import Instance, Setting


class Row(NamedTuple):
    """One press's jobs, by index, and the setting chosen for each; seconds of work with hands enough, and of changes;
    what these changes cost of the second goal, and at the most what warming up for one more day stands for of it."""

    jobs: Sequence[int]
    chosen: tuple[Setting, ...]
    seconds: int
    setting: int
    changes: float
    a_night: float

    def alike(self, other: Row) -> int:
        """How many jobs both begin with, at the same settings."""
        pairs = zip(self.jobs, other.jobs, self.chosen, other.chosen, strict=False)
        return next(
            (n for n, (a, b, c, d) in enumerate(pairs) if a != b or c != d), min(len(self.jobs), len(other.jobs))
        )


def row(instance: Instance, press: int, jobs: Sequence[int], chosen: tuple[Setting, ...], seconds: int) -> Row:
    """A press's row; seconds of its work are given."""
    each = [instance.set_seconds(press, a, b) for a, b in itertools.pairwise(chosen) if a != b]
    change = 60 * instance.day.shop.goals.change
    return Row(jobs, chosen, seconds, sum(each), change * len(each) + sum(each), change + max(each, default=0))


class Least:
    """What a run costs of the second goal at the least, seconds: its changes are known before it is played."""

    def __init__(
        self, instance: Instance, rows: Sequence[Row], free: Sequence[int], drag: Sequence[float], floor: float
    ) -> None:
        self.goals, self.openings = instance.day.shop.goals, [opens for opens, _ in instance.open_hours[1:]]
        self.changes = sum(row.changes for row in rows)  # all of them
        self.a_night = sum(row.a_night for row in rows)  # those at most that warming up for one more day stands for
        ends = [at + slow * row.seconds + row.setting for at, slow, row in zip(free, drag, rows, strict=True)]
        self.finish = max(floor, *ends)

    def work(self, finish: float) -> float:
        """At the least so much, where it is also known that it is not done before `finish`."""
        weight, changes, finish = self.goals.finish, self.changes, max(finish, self.finish)
        least = weight * finish + changes
        for opens in self.openings:
            changes = max(0.0, changes - self.a_night)
            if weight * opens + changes >= least:
                break
            least = min(least, weight * max(opens, finish) + changes)
        return least
