"""A stretch of a timetable put right to the second: still every rule, and nothing later than it was."""

from __future__ import annotations

from dataclasses import replace

import pytest

from scheduler.instance import Instance
from scheduler.timetable.dispatch import dispatch
from scheduler.timetable.exact import retime
from scheduler.timetable.measure import measure
from scheduler.timetable.record import Change, Loading, Timetable
from tests.scheduler.breakdown.days import PRESS, film, pile
from tests.scheduler.days import day, faults, instance_of, programmes, pushed_apart, random_day


def tail_retimed(instance: Instance, table: Timetable, count: int) -> Timetable | None:
    """The timetable with its last loadings timed anew, or None where nothing better was found."""
    by_start = sorted(table.loadings, key=lambda x: x.start)
    others, stretch = by_start[:-count], by_start[-count:]
    found = retime(instance, stretch, others, table.changes, [0] * len(instance.presses), 0.5)
    if found is None:
        return None
    new = {loading.number: loading for loading in [*others, *found]}
    changes = [moved_up(change, table.loadings, new) for change in table.changes]
    return measure(instance, replace(table, loadings=list(new.values()), changes=changes))


def moved_up(change: Change, old: list[Loading], new: dict[int, Loading]) -> Change:
    """A change as late as it was after the loading before it on its press; a warm-up stays."""
    before = [x for x in old if x.press == change.press and x.off <= change.start]
    if change.warm_up or not before:
        return change
    shift = max(new[x.number].off for x in before) - max(x.off for x in before)
    return replace(change, start=change.start + shift, end=change.end + shift)


@pytest.mark.parametrize("seed", range(12))
def test_a_retimed_tail_keeps_every_rule_and_ends_no_later(seed: int) -> None:
    """The last loadings of a drawn day, timed anew: no finding, and no press ends later than before."""
    instance = instance_of(random_day(seed))
    table = dispatch(instance, programmes(instance)[0])
    assert not faults(instance, table)
    new = tail_retimed(instance, table, min(6, len(table.loadings)))
    if new is not None:
        assert not faults(instance, new)
        assert (new.late, new.finish) <= (table.late, table.finish)


def test_a_stretch_timed_badly_is_mended() -> None:
    """Loadings pushed ten minutes apart close up again."""
    ready = {**PRESS, "at_start": 310}
    instance = instance_of(day([film("a")], {"d": {"front": [pile("a")]}}, [("d", 4)], presses=[ready]))
    table = dispatch(instance, programmes(instance)[0])
    spoiled = pushed_apart(instance, table, 600)
    assert spoiled.finish == table.finish + 1800 and not faults(instance, spoiled)
    mended = tail_retimed(instance, spoiled, 4)
    assert mended is not None
    assert not faults(instance, mended)
    assert mended.finish == table.finish
