"""What would help a day with late orders: real plans with more hands, another press, higher priorities, more hours."""

from __future__ import annotations

from models.day import Day
from models.plan import Plan
from scheduler.comparing.changes import Change, add_person, add_press, overtime, priority

MOST_ORDERS = 4  # late orders whose priority is tried, the latest first
_OVERTIME = "60"
_FIRST = 1000  # the highest priority there is


def helps(day: Day, plan: Plan) -> list[Change]:
    """The changes worth trying for this plan's late orders; none where nothing is late."""
    late = sorted((one for one in plan.orders if one.late_min), key=lambda one: -(one.late_min or 0))
    if not late:
        return []
    busiest = max(plan.presses, key=lambda busy: busy.busy_min).id
    changes = [
        add_person(_new("one-more", [*day.people])),
        add_press(f"{_new('second-' + busiest, [*day.presses])}={busiest}"),
        *(priority(f"{one.order}={_FIRST}") for one in late[:MOST_ORDERS]),
    ]
    midnight = 86_400 - day.shop.hours.close
    return [*changes, overtime(_OVERTIME)] if midnight >= 60 * int(_OVERTIME) else changes


def _new(name: str, taken: list[str]) -> str:
    folded = {other.casefold() for other in taken}
    while name.casefold() in folded:
        name += "-new"
    return name
