"""orders.xlsx, written: headed columns with a note on each, and drop-downs of the garments and designs there are."""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from models.base import MAX_QUANTITY
from models.order import OrderLine
from scheduler.intake.columns import ORDERS

_LAST_ROW = 2000  # how far down the drop-downs reach
_TEXT, _MOMENT = "@", "yyyy-mm-dd hh:mm"
_WIDTHS: Mapping[str, int] = {"customer": 30, "garment": 20, "design": 20, "ready": 18, "due": 18, "order": 14}
_KNOWN = "known"  # the sheet that the drop-downs are fed from


def orders_workbook(lines: Sequence[OrderLine], garments: Sequence[str], designs: Sequence[str]) -> bytes:
    """A workbook of these lines that the intake reads back as they are; garments and designs are ids to choose from."""
    from openpyxl import Workbook

    book = Workbook()
    sheet = book.active
    sheet.title = "orders"
    _head(sheet)
    for number, line in enumerate(lines, 2):
        for column, name in enumerate(ORDERS, 1):
            _put(sheet.cell(number, column), getattr(line, name))
    _known(book.create_sheet(_KNOWN), garments, designs)
    _choices(sheet, "garment", f"{_KNOWN}!$A$2:$A${len(garments) + 1}", "catalog.toml")
    _choices(sheet, "design", f"{_KNOWN}!$B$2:$B${len(designs) + 1}", "designs.toml")
    _figures(sheet)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def _head(sheet: Any) -> None:
    from openpyxl.comments import Comment
    from openpyxl.styles import Font
    from openpyxl.utils import get_column_letter

    for column, (name, about) in enumerate(ORDERS.items(), 1):
        cell = sheet.cell(1, column, name)
        cell.font = Font(bold=True)
        cell.comment = Comment(about.words, "pressday", width=320, height=110)
        wide = sheet.column_dimensions[get_column_letter(column)]
        wide.width = _WIDTHS.get(name, 11)
        wide.number_format = _format(name)
    sheet.freeze_panes = "A2"


def _format(name: str) -> str:
    """Names as text, so that 0012 and 1-2 stay what they are; times as dates with a time of day."""
    if name in ("ready", "due"):
        return _MOMENT
    return "General" if name in ("quantity", "priority") else _TEXT


def _put(cell: Any, value: object) -> None:
    """A value as what it is; text stays text, also where it begins like a formula."""
    if value is None or value == "":
        return
    cell.value = value
    if isinstance(value, str):
        cell.data_type, cell.number_format = "s", _TEXT
        cell.quotePrefix = value.startswith(("=", "+", "-", "@"))
    elif isinstance(value, datetime):
        cell.number_format = _MOMENT if value.second == 0 else f"{_MOMENT}:ss"


def _known(sheet: Any, garments: Sequence[str], designs: Sequence[str]) -> None:
    for column, (head, ids) in enumerate((("garments", garments), ("designs", designs)), 1):
        _put(sheet.cell(1, column), head)
        for row, known in enumerate(ids, 2):
            _put(sheet.cell(row, column), known)
        sheet.column_dimensions["AB"[column - 1]].width = 24


def _choices(sheet: Any, name: str, cells: str, file: str) -> None:
    """A drop-down; what is not in it is asked about and not refused, as it may have come to the file since."""
    _rule(
        sheet,
        name,
        f"Choose a {name}, or write one that {file} has.",
        type="list",
        formula1=cells,
        errorStyle="warning",
        error=f"{file} had no such {name} when this workbook was written.",
    )


def _figures(sheet: Any) -> None:
    _rule(
        sheet,
        "quantity",
        "How many pieces.",
        type="whole",
        operator="between",
        formula1="1",
        formula2=str(MAX_QUANTITY),
        error=f"A whole number from 1 to {MAX_QUANTITY}.",
    )
    _rule(
        sheet,
        "priority",
        "Left blank: 1. 2 counts a late minute twice.",
        type="decimal",
        operator="between",
        formula1="0.001",
        formula2="1000",
        error="A number above 0, at most 1000.",
    )
    for name in ("ready", "due"):
        _rule(sheet, name, f"Date and time, as 2026-12-01 15:00. Left blank: {ORDERS[name].blank}.")


def _rule(sheet: Any, name: str, prompt: str, **more: Any) -> None:
    from openpyxl.utils import get_column_letter
    from openpyxl.worksheet.datavalidation import DataValidation

    letter = get_column_letter(list(ORDERS).index(name) + 1)
    rule = DataValidation(allow_blank=True, showInputMessage=True, showErrorMessage="type" in more, **more)
    rule.promptTitle, rule.prompt, rule.errorTitle = name, prompt, name
    rule.add(f"{letter}2:{letter}{_LAST_ROW}")
    sheet.add_data_validation(rule)
