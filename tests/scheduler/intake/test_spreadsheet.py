"""The workbook of orders: it reads back as what it was made of, and offers what the folder knows."""

from __future__ import annotations

import io
import stat
from collections.abc import Callable
from datetime import datetime
from pathlib import Path

import pytest
from openpyxl import load_workbook

from models.order import OrderLine
from models.problem import BadInput
from scheduler.intake import read_day, write_spreadsheet, write_starter
from scheduler.intake.columns import ORDERS
from scheduler.intake.findings import Findings
from scheduler.intake.orders import ORDER_COLUMNS, read_lines
from scheduler.intake.spreadsheet import orders_workbook
from scheduler.intake.workbook import read_xlsx
from tests.scheduler.intake.conftest import NOW

AWKWARD = [
    OrderLine(
        order="0012",
        customer='=HYPERLINK("http://x.invalid")',
        line="1-2",
        garment="tee",
        size="-3",
        quantity=12,
        design="front",
        ready=datetime(2026, 12, 1, 8),
        due=datetime(2026, 12, 1, 15, 0, 30),
        priority=2.5,
    ),
    OrderLine(order="3e5", customer="@home +1", line="TRUE", garment="tee", size="1/2", quantity=1, design="front"),
]


def read_back(data: bytes) -> list[OrderLine]:
    found = Findings()
    rows = read_xlsx(data, "orders.xlsx", ORDER_COLUMNS, found)
    lines = [line.value for line in read_lines(rows or [], "orders.xlsx", found)]
    found.raise_any()
    return [line for line in lines if line is not None]


def test_what_is_written_reads_back() -> None:
    """Names that look like numbers, dates or formulas come back as they were, and so do times to the second."""
    assert read_back(orders_workbook(AWKWARD, ["tee"], ["front"])) == AWKWARD


def test_no_cell_is_a_formula() -> None:
    """A customer named like a formula is text in the workbook, and its ids are text cells."""
    sheet = load_workbook(io.BytesIO(orders_workbook(AWKWARD, ["tee"], ["front"])))["orders"]
    kinds = {sheet.cell(1, cell.column).value: cell.data_type for cell in sheet[2]}
    assert kinds["customer"] == kinds["order"] == kinds["line"] == kinds["size"] == "s"
    assert (kinds["quantity"], kinds["due"]) == ("n", "d")
    assert sheet["A2"].number_format == "@"


def test_drop_downs_offer_what_is_known(folder: Path) -> None:
    """The cells of garments and designs have a list of those in the folder, however many, down to rows still blank."""
    day = read_day(folder, NOW)
    many = [*day.garments, *(f"garment-{n}" for n in range(300))]
    book = load_workbook(io.BytesIO(orders_workbook(day.lines, many, list(day.design))))
    lists = {rule.promptTitle: rule for rule in book["orders"].data_validations.dataValidation if rule.type == "list"}
    for name, ids in (("garment", many), ("design", list(day.design))):
        where = "ABCDEFGHIJ"[list(ORDERS).index(name)]
        assert f"{where}900" in lists[name].sqref
        sheet, cells = lists[name].formula1.split("!")
        assert [row[0].value for row in book[sheet][cells.replace("$", "")]] == ids


def test_every_column_has_a_head_with_a_note(folder: Path) -> None:
    """The columns are those of orders.csv, in that order, each with what it means."""
    day = read_day(folder, NOW)
    sheet = load_workbook(io.BytesIO(orders_workbook(day.lines, ["a"], ["b"])))["orders"]
    assert [cell.value for cell in sheet[1]] == list(OrderLine.model_fields)
    assert all(ORDERS[cell.value].words in cell.comment.text for cell in sheet[1])


def test_a_starter_with_a_workbook_is_the_same_day(tmp_path: Path) -> None:
    """Whether the orders stand in a workbook or in a CSV, the day is the same; a folder has only one of them."""
    write_starter(tmp_path / "csv", NOW)
    write_starter(tmp_path / "xlsx", NOW, spreadsheet=True)
    assert read_day(tmp_path / "csv", NOW).lines == read_day(tmp_path / "xlsx", NOW).lines
    assert not (tmp_path / "xlsx" / "orders.csv").exists()


def test_a_folders_orders_become_a_workbook(folder: Path) -> None:
    """The orders stay what they are, their file is kept under another name, and so it goes on when done again."""
    before, text = read_day(folder, NOW), (folder / "orders.csv").read_bytes()
    assert [path.name for path in write_spreadsheet(folder)] == ["orders.xlsx", "orders-before.csv"]
    assert read_day(folder, NOW).lines == before.lines
    assert (folder / "orders-before.csv").read_bytes() == text and not (folder / "orders.csv").exists()
    first = (folder / "orders.xlsx").read_bytes()
    assert write_spreadsheet(folder)[1].name == "orders-before.xlsx"
    assert write_spreadsheet(folder)[1].name == "orders-before-2.xlsx"
    assert (folder / "orders-before.xlsx").read_bytes() == first
    assert not list(folder.glob(".orders-*"))


def test_a_new_garment_is_offered_once_it_is_written_again(folder: Path, edit: Callable[[str, str, str], None]) -> None:
    """What has come to the catalogue since stands in the drop-down of a workbook written anew."""
    write_spreadsheet(folder)
    edit(
        "catalog.toml",
        '[[garment]]\nid = "league-tee"',
        '[[garment]]\nid = "fair-bag"\n\n[[garment]]\nid = "league-tee"',
    )
    write_spreadsheet(folder)
    known = load_workbook(folder / "orders.xlsx")["known"]
    assert "fair-bag" in [cell.value for cell in known["A"]]


def test_an_unsound_folder_is_left_alone(folder: Path, edit: Callable[[str, str, str], None]) -> None:
    """What cannot be read is told, and nothing is moved."""
    edit("orders.csv", "stall-chest", "stall-chess")
    names = sorted(path.name for path in folder.iterdir())
    with pytest.raises(BadInput):
        write_spreadsheet(folder)
    assert sorted(path.name for path in folder.iterdir()) == names


def test_a_folder_that_may_not_be_written_is_told(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A refusal of the system is a problem of the folder, and the orders are where they were."""

    def refuse(self: Path, data: bytes) -> int:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "write_bytes", refuse)
    with pytest.raises(BadInput) as caught:
        write_spreadsheet(folder)
    assert "Permission denied" in caught.value.problems[0].wrong
    assert stat.S_ISREG((folder / "orders.csv").stat().st_mode)
