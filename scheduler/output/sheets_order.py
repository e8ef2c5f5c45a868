"""The sheet that travels with an order: what it is, how it is pressed and when, and whose name goes on which piece."""

from __future__ import annotations

from collections.abc import Iterator
from html import escape

from models.order import OrderLine
from models.plan import Finish
from scheduler.output.runs import Run
from scheduler.output.sheets_facts import Work
from scheduler.output.sheets_lines import date_line, run_lines, table
from scheduler.output.sheets_words import moment, promise

HEADS = ("Time", "Set to", "What", "Where", "Done")


def order_body(work: Work, finish: Finish, foot: str, end: str) -> str:
    """An order's promise, its lines, its work in time order and its names, as HTML; `end` goes with the last of it."""
    caption = f"Order {finish.order} · {work.day.shop.name or 'the shop'} · plan {work.mark}"
    lines = [line for line in work.day.lines if line.order == finish.order]
    names = [made for made in (_names(work, line) for line in lines) if made]
    work_table = table(HEADS, _groups(work, finish.order), caption, foot, "" if names else end)
    last = f'<div class="kept">{names.pop()}{end}</div>' if names else ""
    return f"{promise_words(work, finish)}{_lines(lines)}<h2>The work</h2>{work_table}{''.join(names)}{last}"


def promise_words(work: Work, finish: Finish) -> str:
    """Pieces, due time, planned finish and whether the due time holds."""
    late = " late" if finish.late_min else ""
    due = _when(work, finish, "due") if finish.due else ""
    return (
        f'<p class="verdict{late}"><b>{escape(finish.customer) or "no customer given"}</b>, {finish.pieces} '
        f"{'piece' if finish.pieces == 1 else 'pieces'}. {due}Planned done {_done(work, finish)}: "
        f"<b>{escape(promise(finish))}</b>.</p>"
    )


def _when(work: Work, finish: Finish, word: str) -> str:
    assert finish.due is not None
    dates = {finish.due.date(), work.plan.start.date(), work.plan.finish.date()}
    return f"Due <b>{moment(finish.due, len(dates) > 1)}</b>. "


def _done(work: Work, finish: Finish) -> str:
    dates = {work.plan.start.date(), work.plan.finish.date(), *([finish.due.date()] if finish.due else [])}
    return moment(finish.finish, len(dates) > 1, up=True)


def _lines(lines: list[OrderLine]) -> str:
    heads = ("Line", "Garment", "Size", "Pieces", "Design")
    rows = "".join(
        "<tr>"
        + "".join(
            f"<td>{escape(str(cell))}</td>" for cell in (ln.line, ln.garment, ln.size or "–", ln.quantity, ln.design)
        )
        + "</tr>"
        for ln in lines
    )
    head = "".join(f'<th scope="col">{text}</th>' for text in heads)
    return f'<table class="plain"><thead><tr>{head}</tr></thead><tbody>{rows}</tbody></table>'


def _groups(work: Work, order: str) -> Iterator[list[str]]:
    today = None
    for run in work.runs:
        if run.order != order:
            continue
        lead = [] if run.start.date() == today else [date_line(run.start)]
        today = run.start.date()
        yield [*lead, run_lines(work, run, _headline(run), own=False)[0]]


def _headline(run: Run) -> str:
    return f'<p class="whose">press <b>{escape(run.press)}</b>, line\N{NO-BREAK SPACE}{escape(run.line)}</p>'


def _names(work: Work, line: OrderLine) -> str:
    cut = [(piece, work.names[piece]) for piece in line.pieces if piece in work.names]
    if not cut:
        return ""
    items = "".join(
        f"<li><b>{escape(row.name)}</b> <b>{escape(row.number)}</b> <i>{escape(piece)}</i></li>" for piece, row in cut
    )
    size = f", {escape(line.size)}" if line.size else ""
    return f'<h2>Names of line {escape(line.line)}{size}</h2><div class="names"><ol>{items}</ol></div>'
