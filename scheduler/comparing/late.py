"""What would help a day with late orders: real plans with more hands, another press, higher priorities, more hours."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from models.day import Day
from models.plan import Plan, WhatIf
from scheduler.comparing.changes import Change, Variant, add_person, add_press, overtime, priority, variants_of
from scheduler.comparing.figures import Outcome
from scheduler.comparing.run import Tell, run
from scheduler.planning import Planned
from scheduler.solving.efforts import EffortName

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


def with_what_if(folder: Path, planned: Planned, effort: EffortName, tell: Tell) -> Planned:
    """The plan with what would help its late orders, planned for real, the most helpful first; as it was where
    nothing is late. Raises BadInput where the folder has changed meanwhile."""
    changes = helps(planned.day, planned.plan)
    if not changes:
        return planned
    base = Variant("as it is", "the folder as it stands", planned.day)
    outcomes = run([base, *variants_of(folder, changes, planned.day.start)], effort, tell, habit=False, known=planned)
    tried = sorted((_what_if(outcome) for outcome in outcomes[1:]), key=lambda w: (w.late_min is None, w.late_min or 0))
    return replace(planned, plan=planned.plan.model_copy(update={"what_if": tuple(tried)}))


def _what_if(outcome: Outcome) -> WhatIf:
    f = outcome.figures
    if f is None:
        return WhatIf(name=outcome.name, words=outcome.words, finish=None, late_min=None, reasons=outcome.reasons)
    return WhatIf(
        name=outcome.name, words=outcome.words, finish=f.finish, late_min=f.late_min, late_orders=f.late_orders
    )
