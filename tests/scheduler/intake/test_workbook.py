"""orders.xlsx: the same columns out of a workbook's first sheet."""

from __future__ import annotations

import io
import zipfile
from datetime import date, datetime

import openpyxl
import pytest

from scheduler.intake import read_day

HEADER = ["order", "customer", "line", "garment", "size", "quantity", "design", "ready", "due", "priority"]


@pytest.fixture
def workbook(folder):
    """Write orders.xlsx instead of orders.csv, with a change made to the sheet."""
    (folder / "orders.csv").unlink()
    (folder / "names.csv").unlink()

    def write(rows, change=lambda sheet: None):
        book = openpyxl.Workbook()
        sheet = book.active
        for row in [HEADER, *rows]:
            sheet.append(row)
        change(sheet)
        book.create_sheet("notes").append(["not an order"])
        book.save(folder / "orders.xlsx")

    return write


def row(**cells):
    """One sound row, with some cells changed."""
    values = {"order": 1001, "garment": "market-tee", "quantity": 24, "design": "stall-chest"} | cells
    return [values.get(name) for name in HEADER]


def test_a_workbook_serves_as_well(folder, workbook):
    """Numbers, real dates and blanks are read as what they say."""
    due, ready = datetime(2026, 12, 1, 16, 0), datetime(2026, 12, 1, 8, 30)
    workbook([row(quantity=24.0, due=due, ready=ready, priority=1.5, customer="Choir"), [], row(order="B-2")])
    first, second = read_day(folder).lines
    assert (first.order, first.line, first.quantity, first.priority) == ("1001", "1", 24, 1.5)
    assert (first.ready, first.due, first.customer) == (ready, due, "Choir")
    assert (second.order, second.due) == ("B-2", None)
    assert "orders.xlsx" in read_day(folder).inputs


def test_dates_written_as_text_are_read_too(folder, workbook):
    """A text cell may say 2026-12-01 8:00."""
    workbook([row(due="2026-12-01 8:00")])
    assert read_day(folder).lines[0].due == datetime(2026, 12, 1, 8, 0)


def test_a_date_without_a_time_of_day_is_asked_for_one(workbook, only):
    """A due cell that shows a day alone must not silently mean midnight."""
    workbook([row(due=date(2026, 12, 1))])
    problem = only()
    assert (problem.where, problem.field, problem.value) == ("row 2", "due", "2026-12-01")
    assert "time of day" in problem.wrong


def test_a_fraction_of_a_piece_is_a_problem(workbook, only):
    """24.5 pieces are none."""
    workbook([row(quantity=24.5)])
    assert (only().where, only().value) == ("row 2", "24.5")


def test_a_formula_counts_by_its_cached_value(folder, workbook):
    """What the spreadsheet last showed is what is read."""
    workbook([row(quantity=24)], lambda sheet: None)
    path = folder / "orders.xlsx"
    parts = {}
    with zipfile.ZipFile(path) as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    name = "xl/worksheets/sheet1.xml"
    assert b"<v>24</v>" in parts[name]
    parts[name] = parts[name].replace(b"<v>24</v>", b"<f>12+12</f><v>24</v>")
    with zipfile.ZipFile(path, "w") as archive:
        for part, data in parts.items():
            archive.writestr(part, data)
    assert read_day(folder).lines[0].quantity == 24


@pytest.mark.parametrize("data", [b"", b"PK", b"order,quantity\n", b"PK\x03\x04" + b"\0" * 200])
def test_what_is_no_workbook_is_a_problem(folder, workbook, only, data):
    """Any bytes under the name are refused in words."""
    (folder / "orders.xlsx").write_bytes(data)
    assert only().file == "orders.xlsx" and only().right


@pytest.mark.parametrize("cut", [0.3, 0.6, 0.9])
def test_a_damaged_workbook_is_a_problem(folder, workbook, only, cut):
    """Part of a workbook is none."""
    workbook([row()])
    data = (folder / "orders.xlsx").read_bytes()
    (folder / "orders.xlsx").write_bytes(data[: int(len(data) * cut)])
    assert "workbook" in only().wrong


def test_a_workbook_with_a_part_spoilt_is_a_problem(folder, workbook, only):
    """A zip that is sound around XML that is not."""
    workbook([row()])
    out = io.BytesIO()
    with zipfile.ZipFile(folder / "orders.xlsx") as archive, zipfile.ZipFile(out, "w") as spoilt:
        for name in archive.namelist():
            spoilt.writestr(name, b"<worksheet><sheetData><row" if "sheet1" in name else archive.read(name))
    (folder / "orders.xlsx").write_bytes(out.getvalue())
    assert "workbook" in only().wrong or "empty" in only().wrong


def test_a_zip_bomb_is_refused(folder, workbook, only):
    """A small file that unpacks to very much is not unpacked."""
    with zipfile.ZipFile(folder / "orders.xlsx", "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("xl/workbook.xml", b" " * 70_000_000)
    assert "unpacks" in only().wrong


def test_cells_far_out_do_no_harm(folder, workbook):
    """A stray cell in the last column must not fill the memory."""
    workbook([row()], lambda sheet: sheet.cell(3, 16_384, "stray"))
    assert len(read_day(folder).lines) == 1


def test_rows_far_down_are_refused(workbook, only):
    """A row beyond the limit is not silently left out."""
    workbook([row()], lambda sheet: sheet.cell(30_000, 1, "stray"))
    assert "20000" in only().wrong
