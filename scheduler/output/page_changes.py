"""The page's section on a plan made again: what happened, and old beside new for orders, presses and people."""

from __future__ import annotations

from datetime import datetime
from html import escape

from models.plan import Changes, Errand, Plan, WorkChange
from scheduler.output.layout import on_the_minute
from scheduler.output.page_tables import Cell, Line, fold, table


def changes_section(plan: Plan) -> str:
    """The whole section; nothing for a day planned from its start."""
    changes = plan.changes
    if changes is None:
        return ""
    told = "".join(f"<li>{escape(line)}</li>" for line in changes.log)
    happened = f"<p>The log since the plan before:</p><ul>{told}</ul>" if told else "<p>Nothing was logged since.</p>"
    return (
        '<section aria-labelledby="h-changes" id="changes"><h2 id="h-changes">What changed</h2>\n'
        f"<p>Planned again at {escape(_clock(plan, changes.at))}; what was begun by then goes on as it was. "
        f"{changes.kept} of {changes.left} loadings still to come stay on their press and in their order.</p>\n"
        f"{happened}\n"
        f"{fold('Orders, old beside new', _orders(plan, changes))}\n"
        f"{fold('Presses and people, old beside new', _presses(changes) + _people(plan, changes))}\n</section>"
    )


def _orders(plan: Plan, changes: Changes) -> str:
    lines = []
    for order in changes.orders:
        promise = {True: "holds", False: "LATE", None: "none given"}[order.holds]
        was = "not in it" if order.was is None else _clock(plan, on_the_minute(order.was, True))
        now = "cancelled" if order.now is None else _clock(plan, on_the_minute(order.now, True))
        moved = 0.0 if order.was is None or order.now is None else (order.now - order.was).total_seconds()
        cells = (
            Cell(order.order),
            Cell(order.customer),
            Cell("none" if order.due is None else _clock(plan, order.due), _key(order.due)),
            Cell(was, _key(order.was)),
            Cell(now, _key(order.now)),
            Cell(_by(moved), moved),
            Cell(promise),
        )
        lines.append(Line(cells, "late" if order.holds is False else ""))
    heads = ("Order", "Customer", "Due", "Done before", "Done now", "Moved", "Promise")
    return table("changed-orders", "Orders, old beside new", heads, lines)


def _presses(changes: Changes) -> str:
    lines = []
    for press in changes.presses:
        parts = (("added", press.added), ("dropped", press.dropped), ("moved here", press.moved))
        for word, works in parts:
            lines += [_work(press.press, word, work) for work in works]
    heads = ("Press", "Change", "Pieces", "Order", "Line", "Placement", "From")
    return table("changed-presses", "What presses have more or less to do", heads, lines)


def _work(press: str, word: str, work: WorkChange) -> Line:
    placement = work.placement if work.operation == 1 else f"{work.placement}, from pressing {work.operation} on"
    pieces = Cell(str(work.pieces), work.pieces)
    return Line(
        (Cell(press), Cell(word), pieces, Cell(work.order), Cell(work.line), Cell(placement), Cell(work.press or ""))
    )


def _people(plan: Plan, changes: Changes) -> str:
    lines = []
    for who in changes.people:
        was, now = _errand(plan, who.was), _errand(plan, who.now)
        lines.append(Line((Cell(who.person), was, Cell("the same", now.key) if now == was else now)))
    return table("changed-people", "Where people go next", ("Person", "Before", "Now"), lines)


def _errand(plan: Plan, errand: Errand | None) -> Cell:
    if errand is None:
        return Cell("nowhere", "9999")
    where = f"on {errand.press}" if errand.press else "off the press"
    text = f"{_clock(plan, errand.start)} {errand.what} {errand.order} line {errand.line} {errand.placement} {where}"
    return Cell(text, errand.start.isoformat())


def _by(seconds: float) -> str:
    minutes = round(abs(seconds) / 60)
    if not minutes:
        return "stays"
    return f"{minutes} min {'later' if seconds > 0 else 'sooner'}"


def _key(at: datetime | None) -> str:
    return "9999" if at is None else at.isoformat()


def _clock(plan: Plan, at: datetime) -> str:
    text = f"{at:%H:%M:%S}".removesuffix(":00")
    return text if at.date() == plan.start.date() == plan.finish.date() else f"{at:%a} {at.day} {at:%b} {text}"
