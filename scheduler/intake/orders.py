"""Rows of orders.csv and names.csv as lines of orders and names of pieces."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from pydantic import BaseModel, ValidationError

from models.base import MAX_QUANTITY
from models.order import NameRow, OrderLine
from scheduler.intake.findings import Findings
from scheduler.intake.tables import Columns, Row
from scheduler.intake.words import say

ORDER_COLUMNS = Columns(tuple(OrderLine.model_fields), ("order", "garment", "quantity", "design"))
NAME_COLUMNS = Columns(tuple(NameRow.model_fields), ("order", "line", "piece"))

_JOINERS = "\u200c\u200d"  # written inside words of several scripts, and in emoji


@dataclass
class Written:
    """What stands in one row of orders.csv, right or wrong; `line` filled in where it was blank."""

    row: Row
    order: str
    line: str
    garment: str
    design: str
    quantity: int | None = None
    value: OrderLine | None = None

    @property
    def key(self) -> tuple[str, str]:
        """(order, line)."""
        return (self.order, self.line)


@dataclass
class Named:
    """What stands in one row of names.csv, right or wrong."""

    row: Row
    order: str
    line: str
    piece: int | None
    value: NameRow | None = field(default=None)

    @property
    def key(self) -> tuple[str, str]:
        """(order, line)."""
        return (self.order, self.line)


def read_lines(rows: Sequence[Row], file: str, found: Findings) -> list[Written]:
    """The order lines, each row's problems noted; those without a name get 1, 2, … within their order."""
    if not rows:
        found.add(file, "", "", "", "there is no order in it", "Write one row for each line of an order")
    written = [_line(row, name, file, found) for row, name in zip(rows, line_names(rows), strict=True)]
    total = sum(line.quantity or 0 for line in written)
    if total > MAX_QUANTITY:
        wrong = f"the orders add up to {total} pieces, more than {MAX_QUANTITY}"
        found.add(file, "", "quantity", str(total), wrong, "Plan fewer orders in one folder")
    return written


def line_names(rows: Sequence[Row]) -> list[str]:
    """Each row's line as it is written, or the next number that its order uses nowhere."""
    taken: dict[str, set[str]] = {}
    for row in rows:
        taken.setdefault(row.cells.get("order", ""), set()).add(row.cells.get("line", ""))
    names = []
    counters = dict.fromkeys(taken, 0)
    for row in rows:
        order, name = row.cells.get("order", ""), row.cells.get("line", "")
        if not name:
            counters[order] += 1
            while str(counters[order]) in taken[order]:
                counters[order] += 1
            name = str(counters[order])
        names.append(name)
    return names


def read_names(rows: Sequence[Row], file: str, found: Findings) -> list[Named]:
    """The named pieces, each row's problems noted."""
    return [_named(row, file, found) for row in rows]


def _line(row: Row, line: str, file: str, found: Findings) -> Written:
    cells = row.cells
    values: dict[str, Any] = {key: cell for key, cell in cells.items() if cell and key in OrderLine.model_fields}
    values["line"] = line
    if "quantity" in values:
        values["quantity"] = _whole(values["quantity"])
    if "priority" in values:
        values["priority"] = _number(values["priority"])
    quantity = values.get("quantity")
    written = Written(row, cells.get("order", ""), line, cells.get("garment", ""), cells.get("design", ""))
    written.quantity = quantity if isinstance(quantity, int) and 1 <= quantity <= MAX_QUANTITY else None
    fine = _printable(row, ("customer", "size"), file, found)
    value = _model(OrderLine, values, row, file, found)
    written.value = value if fine else None
    if written.value and written.value.due and written.value.ready and written.value.due < written.value.ready:
        wrong = f"it is due before its garments are ready ({cells['ready']})"
        found.add(file, row.where, "due", cells["due"], wrong, "Write a due time after ready, or leave one blank")
    return written


def _named(row: Row, file: str, found: Findings) -> Named:
    cells = row.cells
    values: dict[str, Any] = {key: cell for key, cell in cells.items() if cell and key in NameRow.model_fields}
    if "piece" in values:
        values["piece"] = _whole(values["piece"])
    piece = values.get("piece")
    named = Named(row, cells.get("order", ""), cells.get("line", ""), piece if isinstance(piece, int) else None)
    fine = _printable(row, ("name", "number"), file, found)
    if not cells.get("name") and not cells.get("number"):
        wrong = "there is neither a name nor a number for this piece"
        found.add(file, row.where, "name", "", wrong, "Write what is cut for it, or take the row out")
    value = _model(NameRow, values, row, file, found)
    named.value = value if fine else None
    return named


def _model(kind: type[BaseModel], values: dict[str, Any], row: Row, file: str, found: Findings) -> Any:
    table = "row" if kind is OrderLine else "named"
    try:
        return kind.model_validate(values, strict=True)
    except ValidationError as error:
        for item in error.errors(include_url=False):
            name = str(item["loc"][0]) if item["loc"] else ""
            cell = row.cells.get(name, "")
            wrong, good = _row_words(name, cell, *say(item, table, name, values.get(name), ("F", "in")))
            found.add(file, row.where, name, cell, wrong, good)
    return None


def _row_words(name: str, cell: str, wrong: str, good: str) -> tuple[str, str]:
    if wrong == "it is missing":
        return "the cell is blank", good
    if name == "priority" and re.fullmatch(r"\d+,\d+", cell):
        return "a decimal comma cannot be read here", f"Write {cell.replace(',', '.')} with a decimal point"
    if name == "quantity" and re.fullmatch(r"-?\d*\.\d+", cell):
        return "pieces are whole, this is a fraction", good
    if name in ("ready", "due") and re.fullmatch(r"\d{4}-\d{1,2}-\d{1,2}", cell):
        return "the time of day is missing", f"Write {cell}T17:00, or whatever time of day is meant"
    return wrong, good


def _printable(row: Row, fields: Sequence[str], file: str, found: Findings) -> bool:
    """Free text may hold anything that prints; what steers a terminal or turns the line round may not."""
    fine = True
    for name in fields:
        bad = [
            ch
            for ch in row.cells.get(name, "")
            if unicodedata.category(ch) in ("Cc", "Cf", "Cs") and ch not in _JOINERS
        ]
        if bad:
            fine = False
            wrong = f"it holds a character that does not print (U+{ord(bad[0]):04X})"
            found.add(file, row.where, name, row.cells[name], wrong, "Take it out")
    return fine


def _whole(cell: str) -> int | str:
    return int(cell.split(".")[0]) if re.fullmatch(r"[+-]?[0-9]{1,12}(\.0*)?", cell) else cell


def _number(cell: str) -> float | str:
    return float(cell) if re.fullmatch(r"[+-]?[0-9]{1,12}(\.[0-9]{0,12})?|\.[0-9]{1,12}", cell) else cell
