"""What the search believes of hands, and what it learns when its answers are played."""

from __future__ import annotations

import random

import pytest

from scheduler.breakdown import break_down
from scheduler.instance import Instance
from scheduler.solving.chains import default_chains
from scheduler.solving.climb import climb
from scheduler.solving.corrected import corrected
from scheduler.solving.efforts import EFFORTS
from scheduler.solving.incumbent import Incumbent
from scheduler.solving.moves import Moves
from scheduler.solving.view import View
from tests.bench.days import named
from tests.scheduler.days import instance_of, random_day


def view_of(name: str) -> View:
    day = named(name).day
    return View.of(Instance(day, default_chains(day, break_down(day))), 50)


def test_no_more_hands_are_lent_than_there_are() -> None:
    """One person between two presses: the day is as long as the work of their hands."""
    view = view_of("d500")
    for sequences in view.first:
        guess = view.estimator.run(sequences)
        assert guess is not None
        cycles = [view.estimator.cycle[j][press] for press, jobs in enumerate(sequences) for j in jobs]
        hands = sum(cycle.seconds * cycle.share for cycle in cycles)
        (person,) = view.instance.people
        there = sum(min(b, guess.finish) - a for a, b in person.windows if a < guess.finish)
        assert there * 1.01 >= hands / (1 / person.pace)


@pytest.mark.parametrize("seed", range(6))
def test_what_was_played_is_believed(seed: int) -> None:
    """After a playing, the estimate of the same sequences has every order done when it was done."""
    view = View.of(instance_of(random_day(seed)), 30)
    best = Incumbent()
    table = view.play(best, "seed", view.sequences)
    view.estimator.learn(view.sequences, table)
    guess = view.estimator.run(view.sequences)
    assert guess is not None
    done = [rough + slip for rough, slip in zip(guess.order_finish, view.estimator.slip, strict=True)]
    assert done == table.order_finish
    view.estimator.forget()
    assert not any(view.estimator.slip)


@pytest.mark.parametrize("seed", range(4))
def test_correcting_and_climbing_never_lose(seed: int) -> None:
    """The incumbent is what was played best, and is never worse after a search, nor after a climb from it."""
    view = View.of(instance_of(random_day(seed)), 30)
    best, rng = Incumbent(), random.Random(seed)
    view.play(best, "seed", view.sequences)
    values = [best.value]
    corrected(view, best, EFFORTS["quick"], view.sequences, rng, lambda: False)
    values.append(best.value)
    climb(view, best, 20 * view.loads, rng, lambda: False)
    values.append(best.value)
    assert values == sorted(values, reverse=True)
    placed = sorted(job for jobs in view.sequences for job in jobs)
    assert placed == [job.index for job in view.work.jobs]
    assert best.table is not None and not best.table.unplaced


@pytest.mark.parametrize("name", ["d250", "d1200", *map(str, range(4))])
def test_going_on_from_a_record_is_playing_the_whole(name: str) -> None:
    """What is played from where it first differs comes to the same, second by second, as what is played from the start,
    also where the record is itself such a playing's."""
    view = View.of(instance_of(random_day(int(name))), 30) if name.isdigit() else view_of(name)
    estimator, rng = view.estimator, random.Random(1)
    moves, now = Moves(estimator, rng), view.first[0]
    record, tried = estimator.record(now), 0
    for number in range(150):
        new = moves.draw(now)
        found = None if new is None else estimator.run(new)
        if new is None or found is None:
            continue
        tried += 1
        assert estimator.run(new, record=record) == found
        if number % 5 == 0:
            now, record = new, estimator.record(new, record)
    assert tried > 20


def test_a_margin_makes_no_night_of_minutes() -> None:
    """What seems done at its due time is late by a margin of working time: a night, only where it runs past closing."""
    view, a_break = view_of("d5000"), 20 * 60
    e = view.estimator
    e.draw_in(0.06)
    mornings = evenings = 0
    for order, due in enumerate(view.instance.due):
        if due is None:
            continue
        assert e.lateness(order, e.axis.real(int(e.axis.work(due) * 0.93))) == 0
        late, margin = e.lateness(order, due), e.axis.work(due) * 0.06 / 0.94
        assert e.axis.work(due + late) - e.axis.work(due) == pytest.approx(margin, abs=2)
        drawn_in = e.promised[order][1]
        if due - drawn_in > margin + a_break + 2:  # the margin reaches back over a night
            mornings += 1
            assert late <= margin + a_break + 2
        evenings += late > margin + a_break + 2
    assert mornings and evenings
