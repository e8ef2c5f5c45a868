"""orders.csv, orders.xlsx and names.csv as rows of text, each with its row number in the spreadsheet."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import islice

from scheduler.intake.files import table_text
from scheduler.intake.findings import Findings, one_line, suggest

MAX_ROWS = 20_000
SEPARATORS = (",", ";", "\t")
MAX_COLUMNS = 200


@dataclass(frozen=True)
class Columns:
    """The columns a table may have, and those it must have."""

    known: tuple[str, ...]
    needed: tuple[str, ...]


@dataclass(frozen=True)
class Row:
    """One row: its number in the spreadsheet (the header is row 1) and its cells by column, stripped."""

    number: int
    cells: dict[str, str]

    @property
    def where(self) -> str:
        """The row's place in words."""
        return f"row {self.number}"


def read_csv(data: bytes, name: str, columns: Columns, found: Findings) -> list[Row] | None:
    """The rows of a CSV; None with the problem noted where there is no telling its columns."""
    text = table_text(data, name, found)
    if text is None:
        return None
    if not text.strip():
        found.add(name, "", "", "", "the file is empty", f"Write a header row: {','.join(columns.known)}")
        return None
    if text.count("\n") > 10 * MAX_ROWS:  # quoted line breaks make lines, but not so many
        _too_many(name, found)
        return None
    separator = separator_of(text, columns)
    grid = _grid(text, separator, name, found)
    return None if grid is None else to_rows(grid, name, columns, found)


def to_rows(grid: Sequence[Sequence[str]], name: str, columns: Columns, found: Findings) -> list[Row] | None:
    """Rows by column name out of a grid of texts; blank rows are skipped, too many rows refused."""
    if len(grid) > MAX_ROWS + 1:
        _too_many(name, found)
        return None
    first = next((n for n, cells in enumerate(grid) if any(cells)), None)
    if first is None:
        found.add(name, "", "", "", "the table is empty", f"Write a header row: {','.join(columns.known)}")
        return None
    header = _header(grid[first], first + 1, name, columns, found)
    if header is None:
        return None
    rows = []
    for number, cells in enumerate(grid[first + 1 :], first + 2):
        if any(cells):
            _no_more_than(header, cells, number, name, found)
            rows.append(Row(number, {key: cell for key, cell in zip(header, cells, strict=False) if key}))
    return rows


def _too_many(name: str, found: Findings) -> None:
    found.add(name, f"row {MAX_ROWS + 2}", "", "", f"there are more than {MAX_ROWS} rows", "Split the days")


def _no_more_than(header: Sequence[str], cells: Sequence[str], number: int, name: str, found: Findings) -> None:
    extra = [cell for n, cell in enumerate(cells) if cell and (n >= len(header) or not header[n])]
    if extra:
        wrong = f"the row holds cells beyond its columns ({len([h for h in header if h])})"
        right = "Take them out, or put text that holds the separator in double quotes"
        found.add(name, f"row {number}", "", " ".join(extra), wrong, right)


def _header(cells: Sequence[str], number: int, name: str, columns: Columns, found: Findings) -> list[str] | None:
    """The columns' names in order, "" for unknown ones; None where one that is needed is missing."""
    where = f"row {number} (header)"
    header = [" ".join(cell.casefold().split()).replace(" ", "_") for cell in cells]
    while header and not header[-1]:
        header.pop()
    for n, key in enumerate(header):
        if key and key not in columns.known:
            right = suggest(key, [c for c in columns.known if c not in header] or columns.known, "column")
            found.add(name, where, f"column {n + 1}", cells[n], "there is no such column", right)
        elif key and key in header[:n]:
            found.add(name, where, f"column {n + 1}", cells[n], "this column stands twice", "Keep one of them")
    missing = [key for key in columns.needed if key not in header]
    for key in missing:
        found.add(name, where, key, "", "this column is missing", f"The columns are {', '.join(columns.known)}")
    return None if missing else [key if key in columns.known else key and f"\0{key}" for key in header]


def separator_of(text: str, columns: Columns) -> str:
    """The separator by which the header line falls into the most known columns."""
    line = next((line for line in text.splitlines() if line.strip(" ,;\t")), "")

    def known(separator: str) -> int:
        parts = (part.strip(' "').casefold() for part in line.split(separator))
        return sum(part in columns.known for part in parts)

    return max(SEPARATORS, key=lambda separator: (known(separator), line.count(separator)))


def _grid(text: str, separator: str, name: str, found: Findings) -> list[list[str]] | None:
    grid: list[list[str]] = []
    try:
        for cells in islice(_reader(text, separator), MAX_ROWS + 2):
            if len(cells) > MAX_COLUMNS:
                wrong = f"the row holds {len(cells)} cells"
                found.add(name, f"row {len(grid) + 1}", "", "", wrong, f"A table has at most {MAX_COLUMNS} columns")
                return None
            grid.append([clean(cell) for cell in cells])
    except csv.Error as error:
        _broken(len(grid) + 1, name, str(error), found)
        return None
    return grid


def _reader(text: str, separator: str) -> Iterator[list[str]]:
    return csv.reader(io.StringIO(text, newline=""), delimiter=separator, skipinitialspace=True, strict=True)


def clean(cell: object) -> str:
    """A cell's text with its blanks and line breaks as single blanks."""
    return " ".join(str(cell).split())


def _broken(row: int, name: str, message: str, found: Findings) -> None:
    """Where the table cannot be read: most often a quote that is opened and never closed."""
    wrong = f"the table cannot be read here: {one_line(message, 120)}"
    right = 'Save it as CSV again, a quote inside text written as ""'
    if "unexpected end" in message:
        wrong, right = "a double quote is opened here and never closed", 'Close it, or write a quote inside text as ""'
    found.add(name, f"row {row}", "", "", wrong, right)
