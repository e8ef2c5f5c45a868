"""What is asked of a plan with new lines: due times and priorities to search by, and a value to choose by."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from models.day import Day
from models.order import OrderLine
from scheduler.estimating.today import Today
from scheduler.solving.local import LATE_SECOND
from scheduler.timetable.record import Timetable

Aim = Literal["kept", "first", "by", "first by"]
Value = tuple[float, ...]

WORTH = 4.0  # minutes of time and trouble that one minute earlier for the new lines is worth, promises kept
_SACRED = 1e6  # priority of what may not give way
ABOUT = 180  # seconds within which two finishes count as alike when the new lines are put first


@dataclass(frozen=True)
class Goal:
    """How the new lines should go.

    kept: as early as is sensible, no order later than its promise, or than it is today where that is later;
    first: before all else; by: done by `due` (seconds) with promises kept; first by: done by `due`, whatever it costs.
    """

    aim: Aim
    due: int = 0

    def lines(self, today: Today, more: Sequence[OrderLine], ready: datetime | None) -> tuple[OrderLine, ...]:
        """Today's lines and the new ones with due times and priorities that say so."""
        limits = limits_of(today)
        old = today.day.lines
        if self.aim in ("kept", "by"):
            old = tuple(_held(today.day, line, limits.get(line.order)) for line in old)
        words = {"due": today.day.at(self.due), "priority": WORTH / LATE_SECOND if self.aim == "kept" else _SACRED}
        return (*old, *(line.model_copy(update=words | ({"ready": ready} if ready else {})) for line in more))

    def value(self, today: Today, more: Sequence[OrderLine], table: Timetable, finish: Mapping[str, int]) -> Value:
        """What is compared between two timetables, the less the better."""
        failed, done = table.unplaced + table.broken, done_of(more, finish)
        over = sum(max(0, finish[order] - limit) for order, limit in limits_of(today).items())
        if self.aim == "kept":
            return (failed, over, WORTH * done + table.work)
        if self.aim == "by":
            return (failed, over + max(0, done - self.due), table.work)
        late = late_of(today, finish)
        if self.aim == "first":
            return (failed, -(-done // ABOUT), late, table.work)
        return (failed, max(0, done - self.due), late, table.work)


def limits_of(today: Today) -> dict[str, int]:
    """By order with a promise, the second up to which it is no worse off: its due time, or today's finish if later."""
    return {
        order: max(today.day.seconds(what.due), today.finishes[order])
        for order, what in today.day.orders.items()
        if what.due is not None
    }


def late_of(today: Today, finish: Mapping[str, int]) -> float:
    """Today's orders' late seconds, times priority, with these finishes."""
    return sum(
        what.priority * max(0, finish[order] - today.day.seconds(what.due))
        for order, what in today.day.orders.items()
        if what.due is not None
    )


def done_of(more: Sequence[OrderLine], finish: Mapping[str, int]) -> int:
    """When the last of the new lines is done."""
    return max(finish[line.order] for line in more)


def _held(day: Day, line: OrderLine, limit: int | None) -> OrderLine:
    return line if limit is None else line.model_copy(update={"due": day.at(limit), "priority": _SACRED})
