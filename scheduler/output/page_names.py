"""Names and numbers as a table of the page: whose piece is which, and when its own cut is pressed."""

from __future__ import annotations

from collections.abc import Sequence

from models.day import Day
from models.plan import Row
from scheduler.output.names import is_personal, names_of
from scheduler.output.page_facts import line_of
from scheduler.output.page_tables import Cell, Line, table

_HEADS = ("Piece", "Name", "Number", "Customer", "Garment", "Press", "Closed at")


def names_section(day: Day, rows: Sequence[Row]) -> str:
    """A section with every name, folded up; nothing where no piece has one."""
    names = names_of(day)
    if not names:
        return ""
    closed = first_cuts(day, rows)
    lines = []
    for piece, name in names.items():
        line, row = line_of(day, name.order, name.line), closed.get(piece)
        blank = " ".join(part for part in (line.garment, line.size) if part) if line else ""
        when = Cell("", "9999") if row is None else Cell(f"{row.start:%a %H:%M:%S}", row.start.isoformat())
        press = "" if row is None else row.press or ""
        lines.append(
            Line(
                (
                    Cell(piece),
                    Cell(name.name),
                    Cell(name.number),
                    Cell(line.customer if line else ""),
                    Cell(blank),
                    Cell(press),
                    when,
                )
            )
        )
    found = table("names", "Whose piece is which, and when the press closes on its own cut", _HEADS, lines)
    count = f"{len(names)} piece{'' if len(names) == 1 else 's'}"
    return (
        '<section aria-labelledby="h-names"><h2 id="h-names">Names and numbers</h2>\n'
        f"<details><summary>{count} with a cut of their own</summary>\n{found}\n</details>\n</section>"
    )


def first_cuts(day: Day, rows: Sequence[Row]) -> dict[str, Row]:
    """The first closing of each piece that lays its own cut."""
    found: dict[str, Row] = {}
    known: dict[tuple[object, ...], bool] = {}
    for row in sorted((r for r in rows if r.what == "dwell"), key=lambda r: r.start):
        kind = (row.order, row.line, row.placement, row.layers)
        if kind not in known:
            known[kind] = is_personal(day, line_of(day, row.order, row.line), row.placement or "", row.layers)
        if known[kind]:
            for piece in row.pieces:
                found.setdefault(piece, row)
    return found
