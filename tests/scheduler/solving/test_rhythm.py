"""The rhythm of work side by side, beside what is reckoned by hand, and the search's figure beside the timetable's."""

from __future__ import annotations

from statistics import median

import pytest

from scheduler.breakdown import break_down
from scheduler.instance import Instance
from scheduler.solving.chains import default_chains
from scheduler.solving.incumbent import programme_of
from scheduler.solving.rhythm import Beat, rhythm
from scheduler.solving.view import View
from scheduler.timetable.dispatch import dispatch
from tests.bench.days import named
from tests.scheduler.breakdown.days import PRESS, film, pile
from tests.scheduler.days import day, instance_of

HANDS = {"load_s": 9, "align_s": 8, "unload_s": 4, "peel_s": 4}


def beats(instance: Instance, presses: int) -> list[Beat]:
    """Each press at a line of its own."""
    tasks = instance.tasks[:presses]
    return [Beat(n, task, 1, (task.fits[n].lo, task.fits[n].pressures[0]), 1, 1.0) for n, task in enumerate(tasks)]


def shop(presses: int, dwell: int) -> Instance:
    """Presses alike, a line of tees for each, pressed for so long and peeled hot."""
    stand = [{**PRESS, "id": f"p{n}"} for n in range(presses)]
    films = [film("a", dwell_s=[dwell, dwell + 15])]
    return instance_of(day(films, {"d": {"front": [pile("a")]}}, [("d", 4)] * presses, presses=stand, hands=HANDS))


def test_alone_a_press_is_as_quick_as_its_rows() -> None:
    """One press of one platen: load, align, dwell, peel, unload, one after another (9 + 8 + 12 + 4 + 4 s)."""
    instance = shop(1, 12)
    assert rhythm(instance, beats(instance, 1), (0,)) == {0: 37.0}


def test_a_person_between_two_presses_is_all_the_hands_there_are() -> None:
    """Two presses, one person, a dwell of 15 to 30 s: 25 s of hands a piece, and they are never idle: a piece every
    25 s, each press every 50 s (the rhythm that dresses one platen while the other is closed)."""
    instance = shop(2, 15)
    found = rhythm(instance, beats(instance, 2), (0,))
    assert found[0] == pytest.approx(50, rel=0.02) and found[1] == pytest.approx(50, rel=0.02)


def test_long_dwells_leave_hands_enough() -> None:
    """A dwell longer than all the other press asks: each press is as quick as alone."""
    instance = shop(2, 60)
    found = rhythm(instance, beats(instance, 2), (0,))
    assert found[0] == pytest.approx(85, rel=0.01) and found[1] == pytest.approx(85, rel=0.01)


def test_the_searchs_figure_is_the_timetables() -> None:
    """Two presses: within two per cent on the median of first plans, before anything was learnt from playing them."""
    off = []
    for name, seed in (("d250", 0), ("d250", 1), ("d500", 0), ("d500", 1)):
        made = named(name, seed).day
        view = View.of(Instance(made, default_chains(made, break_down(made))), 50)
        for sequences in view.first[:4]:
            guess = view.estimator.run(sequences)
            played = dispatch(view.instance, programme_of(view.settings, view.work, sequences))
            assert guess is not None
            off.append(abs(guess.work / played.work - 1))
    assert median(off) <= 0.02
    assert max(off) <= 0.1
