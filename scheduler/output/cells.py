"""Text in a CSV cell that no spreadsheet takes for a formula, and back."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterable, Sequence
from datetime import datetime

# What spreadsheets take for the beginning of a formula or skip before one (OWASP, "CSV injection").
_FORMULA = re.compile(r"'*[=+\-@\t\r\n＝＋－＠]")


def harmless(text: str) -> str:
    """The text with an apostrophe before it where a spreadsheet would take it for a formula.

    One that already has apostrophes before such a sign gets one more, so that `as_written` gives back every text.
    """
    return f"'{text}" if _FORMULA.match(text) else text


def as_written(cell: str) -> str:
    """The text that `harmless` was given."""
    return cell[1:] if cell.startswith("'") and _FORMULA.match(cell) else cell


def csv_text(header: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """A table as CSV by RFC 4180: commas, CRLF, quotes where needed."""
    stream = io.StringIO(newline="")
    writer = csv.writer(stream, quoting=csv.QUOTE_MINIMAL, lineterminator="\r\n")
    writer.writerow(header)
    writer.writerows([cell(value) for value in row] for row in rows)
    return stream.getvalue()


def cell(value: object) -> str:
    """A value as it stands in a table: None blank, figures to a hundredth, lists joined by ';', texts harmless."""
    if value is None:
        return ""
    if isinstance(value, datetime):
        return value.isoformat(timespec="seconds")
    if isinstance(value, float):
        return f"{round(value, 2) + 0.0:.2f}".rstrip("0").rstrip(".")
    if isinstance(value, tuple):
        return harmless(";".join(str(part) for part in value))
    return harmless(value) if isinstance(value, str) else str(value)
