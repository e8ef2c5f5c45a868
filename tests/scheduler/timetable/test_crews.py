"""Who can go to any press goes first to those that others cannot."""

from __future__ import annotations

from scheduler.timetable.dispatch import dispatch
from scheduler.timetable.manner import Manner
from scheduler.timetable.programme import Block, Stretch
from tests.scheduler.breakdown.days import PRESS, film, pile
from tests.scheduler.days import day, faults, instance_of


def test_the_press_with_fewer_people_keeps_up() -> None:
    """Three presses with the same work, two people, one of them for two presses only: the third ends no later."""
    presses = [{**PRESS, "id": name} for name in ("one", "two", "three")]
    people = [{"id": "ada"}, {"id": "ben", "presses": ["one", "two"]}]
    made = day(
        [film("a"), film("b")],
        {"d": {"front": [pile("a")]}},
        [("d", 40), ("d", 40), ("d", 40)],
        presses=presses,
        people=people,
    )
    instance = instance_of(made)
    (task,) = instance.stages[0]
    fit = task.fits[0]
    setting = fit.lo, fit.pressures[0]
    plan = tuple((Stretch(setting, (Block(instance.stages[line][0].index, 40),)),) for line in range(3))
    table = dispatch(instance, plan, Manner("longest", share=False))
    assert not faults(instance, table)
    ends = [max(x.off for x in table.loadings if x.press == press) for press in range(3)]
    assert ends[2] <= max(ends[:2])
