"""What would help the late orders, by real plans with one thing changed: a part of the page, and in words."""

from __future__ import annotations

from collections.abc import Iterator
from math import ceil

from models.plan import Plan, WhatIf
from scheduler.output.layout import fitted, on_the_minute
from scheduler.output.page_tables import Cell, Line, lateness, minutes, table

_HEAD = "What would help what is late"
_NOTE = "Each was planned for real, with one thing changed and nothing else."


def what_if_section(plan: Plan) -> str:
    """The section, nothing where nothing was tried."""
    if not plan.what_if:
        return ""
    late = _late(plan)
    heads = ("With", "Late", "Less late by", "Still late", "Last piece done")
    lines = [Line(tuple(_cells(one, late))) for one in plan.what_if]
    made = table("whatif", f"The most helpful first; as it is, late by {lateness(late)} in all", heads, lines)
    return f'<section aria-labelledby="h-whatif"><h2 id="h-whatif">{_HEAD}</h2>\n<p>{_NOTE}</p>\n{made}\n</section>'


def what_if_text(plan: Plan) -> str:
    """The same as plain lines, nothing where nothing was tried."""
    if not plan.what_if:
        return ""
    said = [f"{_HEAD} ({lateness(_late(plan))} in all)", *(f"  {_words(one, _late(plan))}" for one in plan.what_if)]
    return "".join(f"{fitted(line)}\n" for line in ("", *said, f"  {_NOTE}"))


def _late(plan: Plan) -> float:
    return sum(order.late_min or 0 for order in plan.orders)


def _words(one: WhatIf, late: float) -> str:
    if one.late_min is None:
        return f"{one.words}: no plan ({'; '.join(one.reasons)})"
    if late - one.late_min < 0.5:
        return f"{one.words}: helps nothing"
    still = f"still {lateness(one.late_min)}" if one.late_min else "nothing is late"
    return f"{one.words}: {_less(late, one.late_min)} less, {still}"


def _less(late: float, now: float) -> str:
    """Half a minute or more saved, so that the figures shown add up: 14 min less 1 min is 13 min."""
    return minutes(late - now) if late < 1 else minutes(max(1, ceil(late) - ceil(now)))


def _cells(one: WhatIf, late: float) -> Iterator[Cell]:
    yield Cell(one.words)
    if one.late_min is None or one.finish is None:
        yield from (Cell("no plan", "9999"), Cell("", ""), Cell("; ".join(one.reasons)), Cell("", ""))
        return
    less = late - one.late_min
    yield Cell(lateness(one.late_min) if one.late_min else "none", one.late_min)
    yield Cell(_less(late, one.late_min) if less >= 0.5 else "helps nothing", less)
    yield Cell(", ".join(one.late_orders) or "none")
    done = on_the_minute(one.finish, up=True)
    yield Cell(f"{done:%a} {done.day} {done:%b %H:%M}", one.finish.isoformat())
