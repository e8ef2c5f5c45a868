"""The sheet that hangs at a press: its settings, runs and pauses in time order."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime
from html import escape

from scheduler.output.runs import Run
from scheduler.output.sheets_facts import DOWN, Work
from scheduler.output.sheets_lines import change_line, date_line, pause_line, run_lines, table

HEADS = ("Time", "Set to", "What", "Where", "Done")


def press_body(work: Work, press: str, foot: str, end: str) -> str:
    """The table of one press, as HTML; `end` goes with its last lines."""
    lines = sorted([*_changes(work, press), *_pauses(work, press)], key=lambda line: line[0])
    runs = [run for run in work.runs if run.press == press]
    if not lines and not runs:
        return f"<p>Nothing to do on this press.</p>{end}"
    caption = f"Press {press} · {work.day.shop.name or 'the shop'} · plan {work.mark}"
    return table(HEADS, _groups(work, lines, runs), caption, foot, end)


def _changes(work: Work, press: str) -> Iterator[tuple[datetime, str]]:
    last = None
    for row in sorted((r for r in work.rows if r.what == "change" and r.press == press), key=lambda r: r.start):
        today = last is not None and last.start.date() == row.start.date()
        yield row.start, change_line(work, row, last if today else None)
        last = row


def _pauses(work: Work, press: str) -> Iterator[tuple[datetime, str]]:
    """Pauses that fall between the first and the last thing the press does, and whenever it is down."""
    own = [row for row in work.rows if row.press == press]
    for start, end, words in work.pauses(press):
        today = [row for row in own if row.start.date() == start.date()]
        between = any(row.end <= start for row in today) and any(row.start >= end for row in today)
        if between or words == DOWN:
            yield start, pause_line(start, end, words)


def _groups(work: Work, lines: list[tuple[datetime, str]], runs: list[Run]) -> Iterator[list[str]]:
    """Lines that belong on one page: what is set or told before a run stands with it."""
    today: date | None = None
    waiting: list[str] = []
    items: list[tuple[datetime, int, str | Run]] = [(at, 0, text) for at, text in lines]
    items += [(run.start, 1, run) for run in runs]
    for at, _, item in sorted(items, key=lambda entry: entry[:2]):
        if at.date() != today:
            today = at.date()
            waiting.append(date_line(at))
        if isinstance(item, str):
            waiting.append(item)
            continue
        line, names = run_lines(work, item, _headline(work, item))
        yield [*waiting, line, *names[:1]]
        yield from ([more] for more in names[1:])
        waiting = []
    if waiting:
        yield waiting


def _headline(work: Work, run: Run) -> str:
    line = work.line(run)
    customer = f", {escape(line.customer)}" if line and line.customer else ""
    return f'<p class="whose">order <b>{escape(run.order)}</b>{customer}, line\N{NO-BREAK SPACE}{escape(run.line)}</p>'
