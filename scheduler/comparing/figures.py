"""What a plan comes to, in the figures by which days are compared."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from models.day import Day
from models.plan import Busy, Plan, Row
from scheduler import calendar
from scheduler.calendar import Spans
from scheduler.comparing.balance import balance_of
from scheduler.comparing.limits import Limit, limit_of


@dataclass(frozen=True)
class Share:
    """Busy minutes of a press or person, and their share of its working time until the last piece (0 to 1)."""

    id: str
    busy_min: float
    share: float


@dataclass(frozen=True)
class Figures:
    """A planned day. Minutes; `finish_min` is working time of the shop from the start to the last piece; `late_min`
    is summed over orders, `late_weighted` times their priorities; the bounds (of `late_weighted` and `work_min`) are
    proven, 0 where nothing was proven."""

    finish: datetime
    finish_min: float
    late_min: float
    late_weighted: float
    late_bound: float
    late_orders: tuple[str, ...]
    changes: int
    change_min: float
    peel_wait_min: float
    work_min: float
    work_bound: float
    presses: tuple[Share, ...]
    people: tuple[Share, ...]
    limit: Limit
    balance: tuple[str, ...]


@dataclass(frozen=True)
class Outcome:
    """What came of a variant: its figures, or why there are none. `seconds`: what planning it took."""

    name: str
    words: str
    figures: Figures | None
    reasons: tuple[str, ...] = ()
    seconds: float = 0.0
    as_before: bool = False  # no better plan was found than the day's as it is, which holds here too


def figures_of(day: Day, plan: Plan, rows: Sequence[Row]) -> Figures:
    """The figures of a plan of this day."""
    end = day.seconds(plan.finish)
    goals = plan.goals
    return Figures(
        finish=plan.finish,
        finish_min=round(calendar.length(calendar.shop_windows(day), end) / 60, 1),
        late_min=round(sum(one.late_min or 0 for one in plan.orders), 2),
        late_weighted=goals.late_min,
        late_bound=goals.late_bound,
        late_orders=tuple(one.order for one in plan.orders if one.late_min),
        changes=goals.changes,
        change_min=goals.change_min,
        peel_wait_min=goals.peel_wait_min,
        work_min=goals.work_min,
        work_bound=goals.work_bound,
        presses=tuple(_share(busy, calendar.press_windows(day, busy.id), end) for busy in plan.presses),
        people=tuple(_share(busy, calendar.person_windows(day, busy.id), end) for busy in plan.people),
        limit=limit_of(day, rows),
        balance=tuple(balance_of(day, rows)),
    )


def _share(busy: Busy, spans: Spans, end: int) -> Share:
    there = calendar.length(spans, end) / 60
    return Share(busy.id, busy.busy_min, round(min(1.0, busy.busy_min / there), 3) if there > 0 else 0.0)
