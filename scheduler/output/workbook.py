"""plan.xlsx: the plan's tables for a spreadsheet, where names stay text and times are times.

A CSV says nothing of what its cells are, so that a spreadsheet takes an order named 0012 for 12 and one named 1-2
for a date. Here every cell says it.
"""

from __future__ import annotations

import io
import re
import secrets
import zipfile
from collections.abc import Iterable, Sequence
from dataclasses import fields
from datetime import datetime
from pathlib import Path
from typing import Any

from models.plan import Finish, Row
from scheduler.output.reading import read_plan, read_timetable

_WIDTHS = {"start": 19, "end": 19, "ready": 19, "due": 19, "finish": 19, "customer": 30, "pieces": 20, "placement": 12}
_MODIFIED = re.compile(rb"<dcterms:modified.*?</dcterms:modified>")
_STAMP = (1980, 1, 1, 0, 0, 0)  # the earliest a zip can hold: the same plan makes the same bytes


def write_plan_workbook(folder: Path) -> Path:
    """Write plan.xlsx beside the folder's plan/ and return it.

    Raises BadInput where there is no plan or it cannot be read, OSError where it cannot be written; what stood there
    then still does.
    """
    plan = read_plan(folder / "plan" / "plan.json")
    rows = read_timetable(folder / "plan" / "timetable.csv")
    home, half = folder / "plan.xlsx", folder / f".plan-{secrets.token_hex(4)}.xlsx"
    try:
        half.write_bytes(plan_workbook(plan.start, plan.orders, rows))
        half.replace(home)
    finally:
        half.unlink(missing_ok=True)
    return home


def plan_workbook(start: datetime, orders: Sequence[Finish], rows: Sequence[Row]) -> bytes:
    """A workbook of finish.csv's and timetable.csv's tables, made out to `start`; figures to a hundredth."""
    from openpyxl import Workbook

    book = Workbook(write_only=True)
    book.properties.created = start
    _table(book.create_sheet("finish"), tuple(Finish.model_fields), orders)
    _table(book.create_sheet("timetable"), tuple(field.name for field in fields(Row)), rows)
    out = io.BytesIO()
    book.save(out)
    return _stamped(out.getvalue())


def _table(sheet: Any, names: Sequence[str], items: Iterable[object]) -> None:
    from openpyxl.cell import WriteOnlyCell
    from openpyxl.styles import Font
    from openpyxl.utils import get_column_letter

    for column, name in enumerate(names, 1):
        sheet.column_dimensions[get_column_letter(column)].width = _WIDTHS.get(name, 11)
    sheet.freeze_panes = "A2"
    heads = [WriteOnlyCell(sheet, name) for name in names]
    for head in heads:
        head.font = Font(bold=True)
    sheet.append(heads)
    for item in items:
        sheet.append([_cell(sheet, getattr(item, name)) for name in names])


def _cell(sheet: Any, value: object) -> object:
    """Text as text, also where it begins like a formula; times, numbers and blanks as they are."""
    if isinstance(value, tuple):
        value = ";".join(str(part) for part in value)
    if isinstance(value, float):
        return round(value, 2)
    if not isinstance(value, str) or not value.startswith("="):
        return None if value == "" else value
    from openpyxl.cell import WriteOnlyCell

    cell = WriteOnlyCell(sheet, value)
    cell.data_type = "s"
    return cell


def _stamped(book: bytes) -> bytes:
    """The same workbook with one and the same time on each of its parts."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(book)) as old, zipfile.ZipFile(out, "w") as new:
        for part in old.infolist():
            data = old.read(part)
            if part.filename == "docProps/core.xml":  # saving notes the moment as that of a change
                data = _MODIFIED.sub(b"", data)
            new.writestr(zipfile.ZipInfo(part.filename, _STAMP), data, zipfile.ZIP_DEFLATED)
    return out.getvalue()
