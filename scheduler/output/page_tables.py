"""The page's words and tables, as HTML. Everything a person typed is escaped here."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from html import escape

from models.day import Day
from models.plan import Finish, GoalFigures, Plan, Row
from scheduler.output.cautions import CAUTIONS
from scheduler.output.layout import on_the_minute
from scheduler.output.page_facts import setting
from scheduler.output.runs import runs_of

_MOST_LATE = 5  # late orders told above everything; all stand in their table


@dataclass(frozen=True, slots=True)
class Cell:
    """What a cell says (plain text) and what it sorts by; left out: the text."""

    text: str
    key: float | str | None = None


@dataclass(frozen=True, slots=True)
class Line:
    """A table row; `style` is a class of page.css."""

    cells: tuple[Cell, ...]
    style: str = ""


def table(name: str, caption: str, heads: Sequence[str], lines: Sequence[Line]) -> str:
    """A table with a caption whose headers sort it. Roles are spelt out because narrow screens lay it out as cards."""
    arrow = '<span aria-hidden="true"></span>'
    head = "".join(
        f'<th role="columnheader" scope="col"><button type="button">{escape(h)}{arrow}</button></th>' for h in heads
    )
    body = "\n".join(_line(heads, line) for line in lines)
    return (
        f'<table role="table" id="{name}" class="sortable"><caption>{escape(caption)}</caption>\n'
        f'<thead role="rowgroup"><tr role="row">{head}</tr></thead>\n<tbody role="rowgroup">\n{body}\n</tbody></table>'
    )


def _line(heads: Sequence[str], line: Line) -> str:
    cells = []
    for number, (head, cell) in enumerate(zip(heads, line.cells, strict=True)):
        key = "" if cell.key is None else f' data-key="{escape(str(cell.key))}"'
        tag, role = ("th", 'role="rowheader" scope="row"') if number == 0 else ("td", 'role="cell"')
        cells.append(f'<{tag} {role} data-head="{escape(head)}"{key}>{escape(cell.text)}</{tag}>')
    style = f' class="{line.style}"' if line.style else ""
    return f'<tr role="row"{style}>{"".join(cells)}</tr>'


def fold(summary: str, inner: str) -> str:
    """A part that a phone shows folded up, under a line to open it; wider screens and paper show it as it is."""
    return f'<details class="fold" open><summary>{escape(summary)}</summary>\n{inner}\n</details>' if inner else ""


def first_words(plan: Plan) -> str:
    """What matters first: the orders that are late, or the one that has least to spare."""
    late = sorted((order for order in plan.orders if order.late_min), key=lambda order: -(order.late_min or 0))
    if late:
        more = [f"<li>and {len(late) - _MOST_LATE} more, in the table of orders</li>"] if len(late) > _MOST_LATE else []
        items = [f"<li>{_order_words(plan, order)}, LATE by {lateness(order.late_min or 0)}</li>" for order in late]
        return f'<ul class="first late">{"".join([*items[:_MOST_LATE], *more])}</ul>'
    over = plan.changes.at if plan.changes else plan.start
    due = [order for order in plan.orders if order.slack_min is not None and order.finish > over]
    if not due:
        return ""
    least = min(due, key=lambda order: order.slack_min or 0)
    return f'<p class="first">Least to spare: {_order_words(plan, least)}, {_slack(least)} to spare.</p>'


def _order_words(plan: Plan, order: Finish) -> str:
    who = f", {escape(order.customer)}" if order.customer else ""
    due, done = _moment(plan, order.due).text, _moment(plan, order.finish, up=True).text
    return f"order <b>{escape(order.order)}</b>{who}: due {due}, done <b>{done}</b>"


def finish_table(plan: Plan) -> str:
    """Every order with its promise, late ones first."""
    heads = ("Order", "Customer", "Pieces", "Due", "Done", "Promise", "Slack")
    orders = sorted(plan.orders, key=lambda f: (-(f.late_min or 0), f.due or datetime.max, f.order))
    lines = [Line(_finish_cells(plan, order), "late" if order.late_min else "") for order in orders]
    return table("orders", "When each order is done, late ones first", heads, lines)


def _finish_cells(plan: Plan, order: Finish) -> tuple[Cell, ...]:
    late = order.late_min or 0
    promise = "none given" if order.due is None else f"LATE by {lateness(late)}" if late else "holds"
    return (
        Cell(order.order),
        Cell(order.customer),
        Cell(str(order.pieces), order.pieces),
        _moment(plan, order.due),
        _moment(plan, order.finish, up=True),
        Cell(promise, -late if late else 1 if order.due is None else 0),
        Cell("" if late else _slack(order), order.slack_min),
    )


def _slack(order: Finish) -> str:
    """What an order has to spare, only whole minutes of it; nothing without a due time."""
    slack = order.slack_min
    return "" if slack is None else minutes(slack // 1 if slack >= 1 else slack)


def campaign_table(day: Day, plan: Plan) -> str:
    """Work at one setting, press by press."""
    heads = ("Press", "Setting", "From", "To", "Pieces")
    lines = [
        Line(
            (
                Cell(c.press),
                Cell(setting(day, c.temperature, c.pressure), c.temperature),
                _moment(plan, c.start),
                _moment(plan, c.end, up=True),
                Cell(str(c.pieces), c.pieces),
            )
        )
        for c in plan.campaigns
    ]
    return table("campaigns", "Campaigns: work at one setting", heads, lines)


def run_table(day: Day, rows: Sequence[Row]) -> str:
    """Every run: what the pictures show, for those who read rather than look."""
    heads = ("Press", "From", "To", "Order", "Line", "Placement", "Setting", "Pieces", "People")
    lines = [
        Line(
            (
                Cell(run.press),
                Cell(f"{run.start:%a %H:%M:%S}", run.start.isoformat()),
                Cell(f"{run.end:%a %H:%M:%S}", run.end.isoformat()),
                Cell(run.order),
                Cell(run.line),
                Cell(run.placement + (", repress" if run.repress else "")),
                Cell(setting(day, run.temperature, run.pressure), run.temperature),
                Cell(str(run.pieces), run.pieces),
                Cell(", ".join(run.people)),
            )
        )
        for run in runs_of(rows)
    ]
    return table("runs", "Runs: like loadings, one after another", heads, lines)


def busy_table(plan: Plan) -> str:
    """Busy minutes of presses and people."""
    kinds = [("press", busy) for busy in plan.presses] + [("person", busy) for busy in plan.people]
    lines = [Line((Cell(busy.id), Cell(kind), Cell(minutes(busy.busy_min), busy.busy_min))) for kind, busy in kinds]
    return table("busy", "How long presses and people are busy", ("Name", "Kind", "Busy"), lines)


def goal_words(day: Day, goals: GoalFigures, status: str, plan: Plan) -> list[str]:
    """What the plan weighs and how good it is proven to be, in sentences."""
    weights = day.shop.goals
    to_last = sum(c * w for c, w in ((goals.changes, weights.change), (goals.peel_wait_min, weights.peel_wait)))
    span = goals.work_min - to_last - goals.change_min
    said = [_late_words(goals)]
    said.append(
        f"Second comes the work, weighed as one sum: {_figure(span)} for the minutes to the last piece"
        f"{_times(weights.finish)}, {goals.changes} change{'' if goals.changes == 1 else 's'} of setting at "
        f"{weights.change:g} each, {_figure(goals.change_min)} minutes spent changing, and "
        f"{_figure(goals.peel_wait_min)} press-minutes of waiting for peels{_times(weights.peel_wait)}: "
        f"together {_figure(goals.work_min)}."
    )
    if status == "optimal":
        said.append(f"This is proven: no plan {rivals(goals)} has a smaller sum than {_figure(goals.work_bound)}.")
    else:
        said.append(
            f"No plan {rivals(goals)} can bring that sum below {_figure(goals.work_bound)} (proven), so at most "
            f"{100 * goals.gap:.1f} % of it could still be saved. The bound is for the whole sum, not for the time "
            "the last piece is done."
        )
    said.append(f"The last piece is done {_words(plan.finish)}.")
    return said


def rivals(goals: GoalFigures) -> str:
    """The plans for which the bound on the sum is proven: lateness comes first, and a later plan may have a smaller."""
    return "that is no later than this one" if goals.late_min else "that keeps every promise"


def _late_words(goals: GoalFigures) -> str:
    if not goals.late_min:
        return "First come due times: every promise holds, nothing can be better."
    if goals.late_bound >= goals.late_min - 0.01:
        proven = "no plan can do better (proven)."
    elif goals.late_bound > 0:
        proven = f"no plan can get below {_figure(goals.late_bound)} (proven)."
    else:
        proven = "that less is impossible is not proven."
    return (
        "First come due times: late minutes, each counted by its order's priority, add up to "
        f"{_figure(goals.late_min)}; {proven}"
    )


def _times(weight: float) -> str:
    return "" if weight == 1 else f" (each counted {weight:g} times)"


def _figure(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0")


def warning_list(plan: Plan) -> str:
    """The plan's warnings, or a word that there are none."""
    if not plan.warnings:
        return "<p>No warnings.</p>"
    return "<ul>" + "".join(f"<li>{escape(warning)}</li>" for warning in plan.warnings) + "</ul>"


def caution_list() -> str:
    """The trade's cautions."""
    return "<ul>" + "".join(f"<li>{escape(caution)}</li>" for caution in CAUTIONS) + "</ul>"


def minutes(value: float) -> str:
    """Minutes as people say them: 12 min, 3 h 05 min, 2 d 4 h."""
    if 0 < value < 1:
        return f"{round(value * 60)} s"
    whole = round(value)
    if whole < 60:
        return f"{whole} min"
    if whole < 1440:
        return f"{whole // 60} h {whole % 60:02d} min"
    return f"{whole // 1440} d {whole % 1440 // 60} h"


def lateness(late_min: float) -> str:
    """Late minutes as people say them, a begun one counted whole."""
    return minutes(-(-late_min // 1) if late_min >= 1 else late_min)


def _moment(plan: Plan, at: datetime | None, up: bool = False) -> Cell:
    """A time of day where the plan lies on one date, else with its date; sorts by the moment, none last.

    `up`: a begun minute counts whole, as where something ends.
    """
    if at is None:
        return Cell("none", "9999")
    key, at = at.isoformat(), on_the_minute(at, up)
    dates = {c.start.date() for c in plan.campaigns} | {order.finish.date() for order in plan.orders}
    if {at.date()} == dates:
        return Cell(f"{at:%H:%M}", key)
    return Cell(f"{at:%a} {at.day} {at:%b %H:%M}", key)


def _words(at: datetime) -> str:
    at = on_the_minute(at, up=True)
    return f"on {at:%A} {at.day} {at:%B} at {at:%H:%M}"
