"""Lines added to orders.csv in its own layout: columns, separator, quotes, line ends and encoding stay as they are."""

from __future__ import annotations

import codecs
import csv
import io
import re
from collections.abc import Sequence
from datetime import datetime
from pathlib import Path

from models.order import OrderLine
from models.problem import BadInput, Problem
from scheduler.intake.files import read_bytes, there
from scheduler.intake.findings import Findings
from scheduler.intake.orders import ORDER_COLUMNS
from scheduler.intake.tables import separator_of

_ORDERS = "orders.csv"


def with_lines(folder: Path, lines: Sequence[OrderLine]) -> bytes:
    """orders.csv's bytes with the lines at its end. Raises BadInput where they cannot be added to it."""
    found = Findings()
    if there(folder / "orders.xlsx"):
        told = "; ".join(",".join(_cells(line, ORDER_COLUMNS.known, "T")) for line in lines)
        wrong = "a workbook keeps its formulas and looks only in your own program, so nothing is written into it"
        right = f"Add the row there yourself and plan again, or save it as orders.csv: {told}"
        raise BadInput([Problem("orders.xlsx", "", "", "", wrong, right)])
    data = read_bytes(folder / _ORDERS, found)
    found.raise_any()
    assert data is not None
    encoding = _encoding(data)
    text = data.decode(encoding)
    head = next(line for line in text.splitlines() if line.strip())
    separator = separator_of(text, ORDER_COLUMNS)
    columns = [
        " ".join(name.casefold().split()).replace(" ", "_") for name in next(csv.reader([head], delimiter=separator))
    ]
    _refuse_missing(columns, lines)
    added = _rows(text, head, separator, [_cells(line, columns, _joint(text)) for line in lines])
    try:
        return (text + added).encode(encoding)
    except UnicodeEncodeError as error:
        wrong = f"the file is not in Unicode and cannot hold {error.object[error.start]!r}"
        raise BadInput([Problem(_ORDERS, "", "", "", wrong, "Save it as UTF-8 and ask again.")]) from None


def _encoding(data: bytes) -> str:
    """What the file is written in, as the reader takes it; a byte order mark stays where it is."""
    if data.startswith(codecs.BOM_UTF16_LE):
        return "utf-16-le"
    if data.startswith(codecs.BOM_UTF16_BE):
        return "utf-16-be"
    try:
        data.decode("utf-8")
    except UnicodeDecodeError:
        return "cp1252"
    return "utf-8"


def _refuse_missing(columns: Sequence[str], lines: Sequence[OrderLine]) -> None:
    """A column the file does not have cannot say what a line says."""
    bare = OrderLine.model_construct(customer="", size="", ready=None, due=None, priority=1.0)
    known = [name.lstrip("\ufeff") for name in columns]
    right = "Add the column to the header, or leave it out of the order."
    problems = [
        Problem(_ORDERS, "row 1 (header)", name, _cell(line, name, "T"), "there is no such column for it", right)
        for name in ("customer", "size", "ready", "due", "priority")
        for line in lines
        if name not in known and getattr(line, name) != getattr(bare, name)
    ]
    if problems:
        raise BadInput(list(dict.fromkeys(problems)))


def _rows(text: str, head: str, separator: str, rows: Sequence[Sequence[str]]) -> str:
    end = "\r\n" if "\r\n" in text else "\n"
    stream = io.StringIO(newline="")
    if head.lstrip("\ufeff").startswith('"'):
        writer = csv.writer(stream, delimiter=separator, lineterminator=end, quoting=csv.QUOTE_ALL)
    else:
        writer = csv.writer(stream, delimiter=separator, lineterminator=end)
    writer.writerows(rows)
    return ("" if text.endswith(("\n", "\r")) else end) + stream.getvalue()


def _cells(line: OrderLine, columns: Sequence[str], joint: str) -> list[str]:
    return [_cell(line, name.lstrip("\ufeff"), joint) if name else "" for name in columns]


def _cell(line: OrderLine, name: str, joint: str) -> str:
    value = getattr(line, name)
    if isinstance(value, datetime):
        return value.isoformat(sep=joint, timespec="seconds" if value.second else "minutes")
    if isinstance(value, float):
        return f"{value:g}"
    return "" if value is None else str(value)


def _joint(text: str) -> str:
    """What stands between date and time in this file."""
    match = re.search(r"\d{4}-\d{1,2}-\d{1,2}([T ])\d", text)
    return match[1] if match else "T"
