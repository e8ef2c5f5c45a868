"""What a press shows at a moment: set, half-way through a change, or fallen back while off or down."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Literal

from models.day import Day
from models.plan import Row
from models.shop import Press
from scheduler import thermal
from scheduler.calendar import open_hours
from scheduler.logbook.loadings import Loading
from scheduler.logbook.spans import Out

Setting = tuple[int, str]  # set-point and pressure


@dataclass(frozen=True, slots=True)
class Showing:
    """A press's heat at a moment. `setting` None: it stands at no set-point (cold, down or changing).

    `temperature` is the platen's, shop's unit; `pressure` the one last set; `change` the change under way;
    `warmed` the last date on which it was warmed up.
    """

    temperature: float
    setting: Setting | None
    pressure: str | None
    change: Row | None
    warmed: date | None


@dataclass(frozen=True, slots=True)
class _Stretch:
    """From `start` on the platen is held at `temperature`, moves to `row`'s, or falls back, off."""

    kind: Literal["held", "changing", "off"]
    start: datetime
    temperature: float
    row: Row | None = None  # the change, or the row by which its setting is known


class Heat:
    """One press's heat over the day: the changes that took place, the loadings on it, the times it was down."""

    def __init__(
        self, day: Day, press: Press, changes: Iterable[Row], taken: Iterable[Loading], downs: Sequence[Out]
    ) -> None:
        self.day, self.press, self.room = day, press, day.shop.room_temperature
        self.open_hours = open_hours(day)
        begin = _Stretch("held", day.start, thermal.at_start(press, self.room))
        self.stretches = [begin]
        self.pressures: list[tuple[datetime, str | None]] = []
        events: list[tuple[datetime, int, Row | None]] = [(out.start, 0, None) for out in downs]
        events += [(row.start, 1, row) for row in changes if not any(out.holds(row.start) for out in downs)]
        events += [(loading.start, 2, loading.rows[0]) for loading in taken]
        for at, kind, row in sorted(events, key=lambda event: event[:2]):
            self._add(at, kind, row)

    def showing(self, at: datetime) -> Showing:
        """What it shows at a moment."""
        now = next(s for s in reversed(self.stretches) if s.start <= at or s is self.stretches[0])
        changing = now.kind == "changing" and now.row is not None and at < now.row.end
        stands = now.kind != "off" and now.row is not None and not changing and at < self._closing(now)
        pressure = next((p for since, p in reversed(self.pressures) if since <= at), None)
        warmed = [s.start.date() for s in self.stretches if s.kind == "changing" and s.start <= at]
        return Showing(
            temperature=self._reading(now, at),
            setting=(now.row.temperature or 0, now.row.pressure or "") if stands and now.row else None,
            pressure=pressure,
            change=now.row if changing else None,
            warmed=warmed[-1] if warmed else None,
        )

    def _add(self, at: datetime, kind: int, row: Row | None) -> None:
        last = self.stretches[-1]
        temperature = self._reading(last, at)
        if row is None:
            if last.kind == "changing" and last.row is not None and last.row.end == at:  # it may have been cut short
                seconds = (at - last.start).total_seconds()
                aim = float(last.row.temperature or 0)
                temperature = thermal.part_way(self.press, last.temperature, aim, seconds, self.room)
            self.stretches.append(_Stretch("off", at, temperature))
            self.pressures = [p for p in self.pressures if p[0] <= at]
        elif kind == 1:
            self.stretches.append(_Stretch("changing", at, temperature, row))
            self.pressures.append((row.end, row.pressure))
        elif self.stretches[-1].kind == "off":  # it is pressing again, so it has been set
            self.stretches.append(_Stretch("held", at, float(row.temperature or 0), row))
            self.pressures.append((at, row.pressure))

    def _closing(self, stretch: _Stretch) -> datetime:
        """When the shop next closes after it was set."""
        since = self.day.seconds(stretch.start)
        return self.day.at(next((end for _, end in self.open_hours if end > since), since))

    def _reading(self, stretch: _Stretch, at: datetime) -> float:
        seconds = (at - stretch.start).total_seconds()
        if stretch.kind == "off":
            return thermal.resting(self.press, stretch.temperature, seconds, self.room)
        held = stretch.temperature
        if stretch.kind == "changing" and stretch.row is not None:
            held = float(stretch.row.temperature or 0)
            if at < stretch.row.end:
                return thermal.part_way(self.press, stretch.temperature, held, seconds, self.room)
        fallen = max(0.0, (at - self._closing(stretch)).total_seconds())
        return thermal.resting(self.press, held, fallen, self.room)
