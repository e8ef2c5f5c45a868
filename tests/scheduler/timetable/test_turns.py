"""Whose turn it is: counted by hand on two presses and one person.

The rule of least slack is that of Panwalkar and Iskander 1977, A survey of scheduling rules, Operations Research 25:
what is due, less the work before it.
"""

from __future__ import annotations

from typing import Any

import pytest

from models.day import Day
from scheduler.instance import Instance
from scheduler.timetable.dispatch import dispatch
from scheduler.timetable.manner import MANNERS, Manner
from scheduler.timetable.press_state import PressState
from scheduler.timetable.programme import Block, Programme, Stretch
from scheduler.timetable.record import Timetable
from scheduler.timetable.turns import Slack, Turns
from tests.scheduler.breakdown.days import PRESS, film, pile
from tests.scheduler.days import at, day, faults, instance_of

FEW, MANY = 10, 30
SLOW = 1.2


def two_orders(due: float | None = None, stations: int = 1, **shop: Any) -> Day:
    """Few pieces for the first press, due after so many minutes, and many for the second."""
    more = {} if due is None else {"due": at(due)}
    presses = [{**PRESS, "id": "window"}, {**PRESS, "id": "wall", "stations": stations}]
    return day([film("a")], {"d": {"front": [pile("a")]}}, [("d", FEW, more), ("d", MANY)], presses=presses, **shop)


def programme(instance: Instance) -> Programme:
    """Each order on a press of its own, at the lowest set-point."""
    return tuple(
        (Stretch((task.fits[press].lo, task.fits[press].pressures[0]), (Block(task.index, pieces),)),)
        for press, (task, pieces) in enumerate(zip(instance.tasks, (FEW, MANY), strict=True))
    )


def states(instance: Instance) -> list[PressState]:
    """The presses as the programme begins."""
    return [PressState(instance, s, p) for s, p in zip(instance.presses, programme(instance), strict=True)]


def one(instance: Instance) -> int:
    """Seconds of a platen that a piece takes."""
    task = instance.tasks[0]
    return instance.timing(task, 0, 1, task.fits[0].lo).occupied


def latest(instance: Instance, ease: float) -> list[float]:
    """By when each press has to go on."""
    presses = states(instance)
    slack = Slack(instance, presses, ease)
    return [slack.latest(press) for press in presses]


@pytest.mark.parametrize("ease", [1.0, 2.0])
def test_without_due_times_the_press_with_more_to_do_goes_first(ease: float) -> None:
    """The day ends when the longer work does, or later by the ease."""
    instance = instance_of(two_orders())
    end = ease * MANY * one(instance)
    assert latest(instance, ease) == pytest.approx([end - SLOW * n * one(instance) for n in (FEW, MANY)])


def test_what_lies_on_two_platens_takes_half_as_long() -> None:
    """Thirty pieces on two platens are fifteen one after another."""
    instance = instance_of(two_orders(stations=2))
    end = MANY / 2 * one(instance)
    assert latest(instance, 1.0) == pytest.approx([end - SLOW * n * one(instance) for n in (FEW, MANY / 2)])


def test_a_due_time_comes_first_where_it_is_near() -> None:
    """Ten pieces due in six minutes have less slack than thirty due some time; breaks are no time to work in."""
    near, far = instance_of(two_orders(6)), instance_of(two_orders(300))
    assert latest(near, 2.0)[0] == pytest.approx(6 * 60 - SLOW * FEW * one(near))
    assert latest(near, 2.0)[0] < latest(near, 2.0)[1]
    assert latest(far, 2.0)[0] > latest(far, 2.0)[1]
    paused = instance_of(two_orders(6, hours={"open": "08:00", "close": "17:00", "breaks": [["08:02", "08:05"]]}))
    assert latest(paused, 2.0)[0] == pytest.approx(latest(near, 2.0)[0] - 180)


def test_slack_grows_as_work_is_done() -> None:
    """Five pieces less leave so much more time, and nothing left all of it."""
    instance = instance_of(two_orders())
    press, _ = presses = states(instance)
    slack = Slack(instance, presses, 1.0)
    before = slack.latest(press)
    press.give_away(0, 5)
    assert slack.latest(press) == pytest.approx(before + SLOW * 5 * one(instance))
    press.give_away(0, FEW - 5)
    assert slack.latest(press) == pytest.approx(MANY * one(instance))


def test_turns_by_wait_and_by_due_time() -> None:
    """The longest wait counts from when it began, later where more people run the press; undated work comes last."""
    instance = instance_of(two_orders(6))
    window, wall = presses = states(instance)
    few, many = instance.tasks
    waits = Turns(instance, presses, Manner("longest"), [1, 2])
    assert waits.of(window, 100, few) == 100
    assert waits.of(wall, 70, many) > 100
    dues = Turns(instance, presses, Manner("due"), [1, 1])
    assert dues.of(window, 100, few) == 6 * 60
    assert dues.of(wall, 0, many) > 10**6
    assert dues.of(wall, 0, None) == dues.of(wall, 0, many)


def played(instance: Instance, manner: Manner) -> tuple[Timetable, list[int]]:
    """The day, and when each press is done."""
    table = dispatch(instance, programme(instance), manner)
    assert not faults(instance, table)
    return table, [max(x.off for x in table.loadings if x.press == press) for press in (0, 1)]


def test_one_person_ends_both_presses_together() -> None:
    """By the longest wait both presses go alike and the longer one ends alone; by least slack it is done sooner."""
    instance = instance_of(two_orders())
    turns, ends = played(instance, Manner("longest", share=False))
    table, together = played(instance, Manner("slack", share=False))
    assert table.finish < turns.finish
    assert abs(together[0] - together[1]) < abs(ends[0] - ends[1])


def test_manners_differ() -> None:
    """None is there twice; the first serves whoever has waited longest."""
    assert len(set(MANNERS)) == len(MANNERS)
    assert MANNERS[0] == Manner()
