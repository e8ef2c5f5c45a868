"""Presses and hours on every simulated day at once."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from models.day import Day
from models.plan import Row
from scheduler import calendar, thermal
from scheduler.calendar import Spans
from scheduler.likely.crew import Marks
from scheduler.likely.hours import Starts, Times, Windows
from scheduler.likely.network import FAR, Dressing, Node

Setting = tuple[int, str]
_BEYOND = 3 * 86_400  # hours are looked at so far beyond the plan's end


@dataclass(frozen=True)
class Known:
    """What is known of a day that goes on from a moment, in seconds from its start: rows begun before `until` are as
    they stand; until when `people` are absent and `presses` down."""

    until: int = -1
    people: Mapping[str, Spans] = field(default_factory=dict)
    presses: Mapping[str, Spans] = field(default_factory=dict)


class Hours:
    """When people and presses may work, up to some days beyond the plan's last row; made once, asked often."""

    def __init__(self, day: Day, rows: Sequence[Row], known: Known) -> None:
        self.day, self.rows = day, rows
        last = max((day.seconds(row.end) for row in rows), default=0) + _BEYOND
        opening = calendar.open_hours(day)
        self._until = next((b for _, b in opening if b > last), opening[-1][1] if opening else last)
        self.open = self._cut(opening)
        gone, down = known.people, known.presses
        self.people = [
            self._cut(calendar.without(calendar.person_windows(day, who), gone.get(who, ()))) for who in day.people
        ]
        self.presses = [
            self._cut(calendar.without(calendar.press_windows(day, name), down.get(name, ()))) for name in day.presses
        ]
        self.changes = [
            Windows(calendar.without(self.open, (*calendar.away_spans(day, name), *down.get(name, ()))))
            for name in day.presses
        ]
        self.days = Windows(self.open)
        self.hands = [Windows(spans) for spans in self.people]
        self._number = {name: n for n, name in enumerate(day.people)}
        self._rooms = [Windows(spans) for spans in self.presses]
        self._loads: dict[tuple[object, ...], Starts] = {}
        self._both: dict[tuple[int, int], Windows] = {}

    def _cut(self, spans: Spans) -> Spans:
        return tuple(span for span in spans if span[0] < self._until)

    def loads(self, dressing: Dressing) -> Starts:
        """Starts from which the whole loading, as planned, lies inside the hours of its press and its people."""
        parts = self._stretches(dressing)
        key = (dressing.press, dressing.span, *parts)
        if key not in self._loads:
            mine = [(self.hands[self._number[who]], start, end - start) for who, start, end in parts]
            self._loads[key] = Starts([(self._rooms[dressing.press], 0, dressing.span), *mine])
        return self._loads[key]

    def _stretches(self, dressing: Dressing) -> list[tuple[str, int, int]]:
        """Each person's rows of a loading as one stretch from its load on: nobody leaves in the midst of it."""
        stretches: dict[str, tuple[int, int]] = {}
        for node in dressing.nodes:
            if not (node.off_press and node.latest >= FAR):
                who, start = self.rows[node.row].person or "", node.start - dressing.load.start
                first, last = stretches.get(who, (start, start))
                stretches[who] = (min(first, start), max(last, start + node.seconds))
        return [(who, start, end) for who, (start, end) in stretches.items()]

    def together(self, press: int, person: int) -> Windows:
        """When a person is there while a loading may lie on the press."""
        if (press, person) not in self._both:
            self._both[press, person] = Windows(calendar.common(self.presses[press], self.people[person]))
        return self._both[press, person]


class PressRoom:
    """A press on every day: from when it is free, at which setting, and on which of the shop's days it was warmed."""

    def __init__(self, day: Day, number: int, hours: Hours, days: int) -> None:
        self.press = day.shop.press[number]
        self.room = day.shop.room_temperature
        self.open, self.days = hours.changes[number], hours.days
        self.free = np.zeros(days)
        self.warm_on = np.full(days, -1, dtype=np.intp)
        self.setting: Setting | None = None

    def opening_before(self, at: float) -> float:
        """When the shop opened on the day of `at`."""
        number = self.day_of(at)
        return float(self.days.starts[number]) if number >= 0 else 0.0

    def day_of(self, at: float) -> int:
        """The number of the shop's day, from 0."""
        return int(self.days.number(np.array([at]))[0])

    def change_seconds(self, setting: Setting, begun: Times, node: Node) -> Times:
        """How long a planned change takes: longer where it slipped to another day and the press is cold there, and
        where work of the day before has had the press warmed, no warm-up but a change."""
        lasts = np.full(begun.shape, float(node.seconds))
        on, due = self.days.number(begun), self.day_of(float(node.start))
        cold = (on > due) & (self.warm_on < on)
        if cold.any():
            lasts = np.where(cold, np.maximum(lasts, self.warm_up(setting[0])), lasts)
        warmed = self.warm_on >= due
        if self.setting is not None and not warmed.all() and (early := warmed & (on >= due)).any():
            lasts = np.where(early, self.between(self.setting, setting), lasts)
        return lasts

    def between(self, a: Setting, b: Setting) -> float:
        """Seconds from one setting to another."""
        return float(thermal.setting_seconds(self.press, a, b, self.room))

    def set(self, setting: Setting, begun: Times, ready: Times) -> None:
        """The press has taken on a setting."""
        self.setting = setting
        self.warm_on = np.maximum(self.warm_on, self.days.number(begun))
        self.free = np.maximum(self.free, ready)

    def cold(self, at: Times, where: Marks | None) -> Marks:
        """On which days the press would be found cold: what is loaded was carried over to a later day."""
        found: Marks = self.days.number(at) > self.warm_on
        return found if where is None else found & where

    def warmed(self, setting: Setting, at: Times, cold: Marks) -> Times:
        """When a loading that could come at `at` finds the press warm, where it is cold."""
        on = self.days.number(at)
        ready = self.days.starts[np.maximum(on, 0)] + self.warm_up(setting[0])
        self.warm_on = np.where(cold, on, self.warm_on)
        return np.where(cold, np.maximum(at, ready), at)

    def warm_up(self, setpoint: int) -> float:
        """Seconds back to a set-point from what one night leaves of it."""
        if len(self.days.starts) < 2:
            return 0.0
        night = float(np.min(self.days.starts[1:] - self.days.ends[:-1]))
        left = thermal.resting(self.press, float(setpoint), night, self.room)
        return float(thermal.change_seconds(self.press, left, setpoint, self.room))
