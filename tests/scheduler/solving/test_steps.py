"""Many jobs: each step begins at the best played so far, and the estimate believes what that came to."""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from scheduler.solving import steps
from scheduler.solving.efforts import EFFORTS
from scheduler.solving.incumbent import Incumbent
from scheduler.solving.moves import Sequences
from tests.scheduler.solving.test_estimate import view_of

NEVER: Callable[[], bool] = lambda: False  # noqa: E731


def test_a_step_that_is_worse_is_left(monkeypatch: pytest.MonkeyPatch) -> None:
    """The two searches begin at the start, every step at the better of what was played, and it is believed of it."""
    view, best = view_of("d1200"), Incumbent()
    good, worse = view.first[0], view.first[1]
    answers, begun = [worse, good, worse, worse], []

    def scripted(estimator: Any, now: Sequences, *rest: Any, **more: Any) -> list[Sequences]:
        begun.append(now)
        return [answers[len(begun) - 1]]

    monkeypatch.setattr(steps, "finalists", scripted)
    effort = replace(EFFORTS["normal"], steps=2)
    steps.by_steps(view, best, effort, worse, random.Random(0), NEVER)
    assert begun == [worse, worse, good, good]
    table = view.play(best, "again", good, alone=True)
    guess = view.estimator.run(good)
    assert guess is not None
    work = view.estimator.axis.work
    done = [work(rough) + slip for rough, slip in zip(guess.order_finish, view.estimator.slip, strict=True)]
    assert done == list(map(work, table.order_finish))


def test_steps_better_what_they_begin_at() -> None:
    """From the first plan of a day of 1,200 pieces a few steps lead to less lateness, or to less work and no more."""
    view, best = view_of("d1200"), Incumbent()
    first = view.play(best, "seed", view.first[0])
    steps.by_steps(view, best, EFFORTS["quick"], view.first[0], random.Random(1), NEVER)
    assert best.table is not None
    assert best.table.value < first.value


def test_what_is_nearest_to_the_best_is_kept_beside_it() -> None:
    """A plan a little late with less work is not the best, but a search may begin at it."""
    view, best = view_of("d1200"), Incumbent()
    tables = [view.play(best, "seed", sequences) for sequences in [*view.first[:3], *view.starts[:2]]]
    assert best.near is not None
    assert best.near.instance is view.instance
    near = best.near.table
    assert near.late + near.work == min(t.late + t.work for t in tables)
