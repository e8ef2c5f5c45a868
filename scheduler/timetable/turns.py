"""Whose turn it is among presses that wait for hands.

By the longest wait, by the earliest due time of what they would go on with, or by least slack: a press has to go on by
the latest moment at which the work before it can still be done when each of it is due, or by the day's end, in working
time. (For these rules see Panwalkar and Iskander 1977, A survey of scheduling rules, Operations Research 25.)
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from weakref import WeakKeyDictionary

from scheduler import calendar
from scheduler.instance import Instance, Task
from scheduler.timetable.acts import FAR
from scheduler.timetable.manner import Manner
from scheduler.timetable.press_state import PressState

_SPARED = 40  # seconds by which presses that more people run are taken to have waited less, person by person
_SLOW = 1.2  # times as long as it must: what work takes of a platen where hands are short

_dues: WeakKeyDictionary[Instance, list[float]] = WeakKeyDictionary()  # a day is dispatched many times


class Turns:
    """The turns of the presses of one dispatch, in one manner; `crews`: how many people run each press."""

    def __init__(self, instance: Instance, presses: Sequence[PressState], manner: Manner, crews: Sequence[int]) -> None:
        self.instance, self.serve = instance, manner.serve
        self.spared = [_SPARED * (crew - min(crews)) for crew in crews]
        self.slack = Slack(instance, presses, manner.ease) if manner.serve == "slack" else None

    def of(self, press: PressState, since: int, task: Task | None) -> int:
        """The turn of a press that has waited since then to go on with a task: the lower the sooner."""
        if self.slack is not None:
            return math.floor(self.slack.latest(press))
        if self.serve == "longest":
            return since + self.spared[press.side.index]
        due = None if task is None else self.instance.due[self.instance.order_of[task.line]]
        return FAR if due is None else due


class Slack:
    """The latest working seconds of the presses of one dispatch.

    `ease`: the day is taken to end when so many times the longest press's work is done. At 1 the presses end together
    as far as due times let them; the later it is, the less counts but due times.
    """

    def __init__(self, instance: Instance, presses: Sequence[PressState], ease: float) -> None:
        windows = calendar.shop_windows(instance.day)
        if instance not in _dues:
            _dues[instance] = [_due(instance, task, windows) for task in instance.tasks]
        self.dues = _dues[instance]
        longest = max((press.left / press.side.stations for press in presses), default=0.0)
        self.end = calendar.length(windows, instance.begins) + ease * longest
        self._known: dict[int, tuple[tuple[int, int, Task | None], float]] = {}

    def latest(self, press: PressState) -> float:
        """The working second by which a press has to go on."""
        state = press.at, press.left, press.next_task
        known = self._known.get(press.side.index)
        if known is None or known[0] != state:
            known = self._known[press.side.index] = state, self._latest(press)
        return known[1]

    def _latest(self, press: PressState) -> float:
        passed, least, platens = 0.0, math.inf, press.side.stations
        for task, seconds in press.ahead():
            passed += _SLOW * seconds / platens
            least = min(least, self.dues[task] - passed)
        return min(least, self.end - passed)


def _due(instance: Instance, task: Task, windows: calendar.Spans) -> float:
    """The working second by which the last piece of a task should leave its press: one loading of each stage that
    follows still has to fit."""
    due = instance.due[instance.order_of[task.line]]
    if due is None:
        return math.inf
    later = [t for t in instance.stages[task.line] if t.stage > task.stage]
    after = sum(min(instance.timing(t, press, 1, fit.lo).occupied for press, fit in t.fits.items()) for t in later)
    return calendar.length(windows, due) - after
