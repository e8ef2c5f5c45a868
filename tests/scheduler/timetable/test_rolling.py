"""A long timetable put right in windows and drawn forward: every rule kept, nothing worse, the same again."""

from __future__ import annotations

import pytest

from scheduler.timetable.dispatch import dispatch
from scheduler.timetable.manner import MANNERS
from scheduler.timetable.polish import MOST, polish
from scheduler.timetable.rolling import rolled
from scheduler.timetable.shift import drawn_forward
from tests.scheduler.breakdown.days import PRESS, film, pile
from tests.scheduler.days import day, faults, instance_of, programmes, pushed_apart, random_day


@pytest.mark.parametrize("seed", range(16))
def test_drawn_forward_no_row_is_later_and_every_rule_is_kept(seed: int) -> None:
    """People and orders as they were, each loading at its old time or sooner, and no finding."""
    instance = instance_of(random_day(seed))
    table = dispatch(instance, programmes(instance)[0], MANNERS[seed % len(MANNERS)])
    found = drawn_forward(instance, table)
    if found is not None:
        assert not faults(instance, found)
        assert (found.late, found.finish) <= (table.late, table.finish)
        for before, after in zip(table.loadings, found.loadings, strict=True):
            assert all(b[0] <= a[0] for a, b in zip(before.done, after.done, strict=True))


def test_loadings_apart_close_up_again() -> None:
    """Pushed ten minutes apart and drawn forward, the loadings lie as they did."""
    ready = {**PRESS, "at_start": 310}
    instance = instance_of(day([film("a")], {"d": {"front": [pile("a")]}}, [("d", 4)], presses=[ready]))
    table = dispatch(instance, programmes(instance)[0])
    found = drawn_forward(instance, pushed_apart(instance, table, 600))
    assert found is not None and found.finish == table.finish


@pytest.mark.parametrize("seed", range(8))
def test_rolled_windows_keep_every_rule_and_are_never_worse(seed: int) -> None:
    """A drawn day, put right in windows: no finding, and its value is no worse than before."""
    instance = instance_of(random_day(seed))
    table = dispatch(instance, programmes(instance)[0])
    found = rolled(instance, table, 0.2, seed)
    assert not faults(instance, found)
    assert found.value <= table.value


def test_a_long_day_is_put_right_and_the_same_again() -> None:
    """Of more loadings than an exact model takes at once: no worse than dispatched, and no different the next time."""
    presses = [{**PRESS, "id": f"p{n}", "at_start": 310} for n in range(2)]
    instance = instance_of(day([film("a")], {"d": {"front": [pile("a")]}}, [("d", MOST + 10)], presses=presses))
    table = dispatch(instance, programmes(instance)[0])
    assert len(table.loadings) > MOST
    once, again = (polish(instance, table, 0.3, 1) for _ in range(2))
    assert not faults(instance, once)
    assert once.value <= table.value
    assert [x.done for x in once.loadings] == [x.done for x in again.loadings]
