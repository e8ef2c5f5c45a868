"""What the search learns of each press, and where large days begin and go back to."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

from scheduler.solving.incumbent import Incumbent
from scheduler.solving.view import View
from tests.scheduler.solving.test_estimate import view_of

SLOW = (1.0, 1.25, 0.9, 1.1)  # so many times longer than it would seem each of four presses takes


def spans(view: View) -> list[float]:
    """Working seconds of each press's jobs, by the estimate."""
    e = view.estimator
    guess = e.run(view.sequences)
    assert guess is not None
    return [
        sum(e.axis.work(guess.ends[j]) - e.cycle[j][press].tail - e.axis.work(guess.starts[j]) for j in jobs)
        for press, jobs in enumerate(view.sequences)
    ]


def played_slowly(view: View) -> Any:
    """A timetable in which each job takes its press's share longer, loading by loading, and one follows another."""
    e = view.estimator
    guess = e.run(view.sequences)
    assert guess is not None
    loadings = []
    for press, jobs in enumerate(view.sequences):
        now = 0.0
        for job in jobs:
            cycle = e.cycle[job][press]
            many = cycle.seconds // cycle.each
            took = SLOW[press] * (e.axis.work(guess.ends[job]) - cycle.tail - e.axis.work(guess.starts[job]))
            script = SimpleNamespace(task=view.instance.tasks[view.work.jobs[job].task])
            for n in range(many):
                at = e.axis.real(int(now + took * n / many))
                loadings.append(SimpleNamespace(press=press, start=at, script=script))
            now += took
    return SimpleNamespace(loadings=loadings)


def test_a_press_that_is_slower_than_the_others_is_known_for_it() -> None:
    """Of four presses of which each was slower by a factor of its own, all are slower by the same after a while.

    By the formula, and whatever is slow about them all: that is friction's to tell.
    """
    view = view_of("d1200")
    table, before = played_slowly(view), spans(view)
    real = [slow * span for slow, span in zip(SLOW, before, strict=True)]
    for _ in range(12):
        view.estimator.compare(view.sequences, table)
    off = [took / would for took, would in zip(real, spans(view), strict=True)]
    assert max(SLOW) / min(SLOW) > 1.35
    assert max(off) / min(off) < 1.12
    lean = view.estimator.lean
    assert sorted(range(4), key=lean.__getitem__) == sorted(range(4), key=SLOW.__getitem__)


def test_what_is_learnt_of_presses_serves_the_next_look_at_the_same_shop() -> None:
    """Paces are believed from one view to another, but not where rhythms are played: those need no such thing."""
    view, other, played = view_of("d1200"), view_of("d1200"), view_of("d250")
    view.estimator.compare(view.sequences, played_slowly(view))
    view.estimator.friction = 1.07
    other.estimator.believe(view.estimator)
    assert other.estimator.lean == view.estimator.lean != [1.0] * 4
    assert other.estimator.friction == 1.07
    assert other.estimator.drag == [1.07 * lean for lean in view.estimator.lean]
    lean = list(played.estimator.lean)
    played.estimator.compare(played.sequences, played.play(Incumbent(), "seed", played.sequences))
    assert played.estimator.lean == lean == [1.0, 1.0]


def test_searches_begin_where_there_are_few_changes() -> None:
    """Of the first plans of 5,000 pieces a search begins not at the least late, but at one with far fewer changes."""
    view = view_of("d5000")
    assert sorted(map(id, view.starts)) == sorted(map(id, view.first))
    least_late, begun = view.estimator.run(view.first[0]), view.estimator.run(view.starts[0])
    assert least_late is not None and begun is not None
    assert begun.late > least_late.late
    assert begun.work < 0.95 * least_late.work
