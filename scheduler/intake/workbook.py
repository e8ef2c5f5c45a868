"""orders.xlsx: the first sheet of a workbook as a grid of texts, however large or damaged the file is."""

from __future__ import annotations

import io
import itertools
import warnings
import zipfile
from collections.abc import Iterator
from datetime import date, datetime, time, timedelta
from typing import Any

from scheduler.intake.findings import Findings, one_line
from scheduler.intake.tables import MAX_ROWS, Columns, Row, clean, to_rows

MAX_UNPACKED = 60_000_000
MAX_COLUMNS = 60  # a cell out at column XFD must not fill memory with the blanks before it


def read_xlsx(data: bytes, name: str, columns: Columns, found: Findings) -> list[Row] | None:
    """The rows of the first sheet; None with the problem noted."""
    if not _sound_zip(data, name, found):
        return None
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            grid = _first_sheet(data)
    except Exception as error:  # openpyxl raises what the damage happens to hit: any kind is the file's fault
        why = one_line(str(error) or type(error).__name__, 120)
        found.add(name, "", "", "", f"the workbook cannot be read ({why})", "Save it again as .xlsx, or as orders.csv")
        return None
    return to_rows(grid, name, columns, found)


def _sound_zip(data: bytes, name: str, found: Findings) -> bool:
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            unpacked = sum(part.file_size for part in archive.infolist())
    except Exception:  # zipfile, too, raises many kinds on damaged input
        found.add(name, "", "", "", "this is no .xlsx workbook, or a damaged one", "Save it again as .xlsx, or as CSV")
        return False
    if unpacked > MAX_UNPACKED:
        wrong = f"the workbook unpacks to {unpacked / 1e6:.0f} MB, more than {MAX_UNPACKED / 1e6:.0f}"
        found.add(name, "", "", "", wrong, "Keep only the table of orders in it")
        return False
    return True


def _first_sheet(data: bytes) -> list[list[str]]:
    from openpyxl import load_workbook

    book = load_workbook(io.BytesIO(data), read_only=True, data_only=True, keep_links=False)
    try:
        if not book.worksheets:
            raise ValueError("it has no sheet")
        sheet = book.worksheets[0]
        sheet.reset_dimensions()
        grid = _texts(sheet.iter_rows(max_col=MAX_COLUMNS))
    finally:
        book.close()
    while grid and not any(grid[-1]):
        grid.pop()
    return grid


def _texts(rows: Iterator[Any]) -> list[list[str]]:
    """All rows as texts, up to the first one too many: blank rows below the limit do no harm."""
    grid = [[_text(cell) for cell in row] for row in itertools.islice(rows, MAX_ROWS + 1)]
    if any(cell.value is not None for row in rows for cell in row):
        grid.append(["…"])
    return grid


def _text(cell: Any) -> str:
    """What the cell would say in a CSV: whole numbers without a point, times as 2026-12-01T08:00:00."""
    value = cell.value
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float):
        return str(int(value)) if value.is_integer() and abs(value) < 1e15 else repr(value)
    if isinstance(value, datetime):
        return _moment(value, str(cell.number_format or ""))
    if isinstance(value, (date, time, timedelta)):
        return str(value)
    return clean(value)


def _moment(value: datetime, number_format: str) -> str:
    """To the whole second; a cell shown without a time of day stays a date alone."""
    rounded = (value + timedelta(microseconds=500_000)).replace(microsecond=0)
    shows_time = "h" in number_format.casefold()
    return rounded.isoformat() if shows_time or rounded.time() != time() else rounded.date().isoformat()
