"""What is likely, in words and figures for the terminal and the page."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from html import escape

from models.plan import Finish, Likely, Plan
from scheduler.intake.findings import one_line
from scheduler.output.layout import WIDTH, number, on_the_minute, tabled
from scheduler.output.page_tables import Cell, Line, table

HEADS = ("half of the days", "80 of 100", "95 of 100", "on time")


def likely_lines(plan: Plan, width: int = WIDTH) -> Iterator[str]:
    """An order a row, the least likely to be on time first, below the headings; nothing without simulated days."""
    orders = [order for order in plan.orders if order.holds_95 is not None]
    if plan.likely is None or not orders:
        return
    rows = [(one_line(order.order, 400), *_cells(plan, order)) for order in sorted(orders, key=_unlikely)]
    yield from tabled([("order", *HEADS), *rows], width, indent=2)


def likely_sentences(likely: Likely) -> tuple[str, str]:
    """What the figures rest on, and what goes wrong on an average day."""
    return (
        f"Done by then in so many of {likely.days} simulated days, with the spreads of shop.toml.",
        f"An average day: pieces spoiled and made again {number(likely.spoiled)}; closings past their dwell window, as "
        f"hands come late, {number(likely.overpressed)} of {likely.closings} (prepresses count); peels too late "
        f"{number(likely.peeled_late)}.",
    )


def likely_table(plan: Plan) -> str:
    """The page's table of likely finishes; nothing without simulated days."""
    if plan.likely is None:
        return ""
    orders = sorted((o for o in plan.orders if o.holds_95 is not None), key=_unlikely)
    lines = [Line(_page_cells(plan, order)) for order in orders]
    heads = ("Order", *(head.capitalize() for head in HEADS))
    said = "".join(f"<p>{escape(sentence)}</p>\n" for sentence in likely_sentences(plan.likely))
    return (
        table("likely", "When each order is likely to be done, the least likely to be on time first", heads, lines)
        + said
    )


def _page_cells(plan: Plan, order: Finish) -> tuple[Cell, ...]:
    times = (order.holds_50, order.holds_80, order.holds_95)
    keys = [at.isoformat() for at in times if at is not None]
    texts = _cells(plan, order)
    share = -1.0 if order.on_time is None else order.on_time
    return (Cell(order.order), *map(Cell, texts[:3], keys), Cell(texts[3], share))


def _cells(plan: Plan, order: Finish) -> tuple[str, str, str, str]:
    a, b, c = (_moment(plan, at) for at in (order.holds_50, order.holds_80, order.holds_95))
    return a, b, c, chance(order.on_time)


def chance(share: float | None) -> str:
    """93 days of 100; never rounded up to always, nor down to never."""
    if share is None:
        return "no due time"
    if 0.995 <= share < 1:
        return "over 99 of 100"
    if 0 < share < 0.005:
        return "under 1 of 100"
    return f"{100 * share:.0f} of 100"


def _moment(plan: Plan, at: datetime | None) -> str:
    if at is None:
        return ""
    at = on_the_minute(at, True)
    dates = {plan.start.date(), *(o.holds_95.date() for o in plan.orders if o.holds_95 is not None)}
    return f"{at:%H:%M}" if len(dates) == 1 else f"{at:%a} {at.day} {at:%b} {at:%H:%M}"


def _unlikely(order: Finish) -> tuple[float, str]:
    return (2.0 if order.on_time is None else order.on_time, order.holds_95.isoformat() if order.holds_95 else "")
