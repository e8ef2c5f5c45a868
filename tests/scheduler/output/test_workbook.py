"""The plan's tables in a workbook: what a spreadsheet shows is what the plan says."""

from __future__ import annotations

import io
import json
from dataclasses import fields
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest
from openpyxl import load_workbook
from typer.testing import CliRunner

from models.plan import Finish, Row
from scheduler.cli import app
from scheduler.output.files import write_plan
from scheduler.output.workbook import plan_workbook
from tests.scheduler.output.planned import EIGHT, planned


def sheets(data: bytes) -> dict[str, list[list[Any]]]:
    book = load_workbook(io.BytesIO(data))
    return {sheet.title: [[cell.value for cell in row] for row in sheet.iter_rows()] for sheet in book.worksheets}


@pytest.mark.parametrize("order", ["0012", "1-2", "3e5", "12-1", "TRUE", "1/2"])
def test_names_stay_what_they_are(order: str) -> None:
    """Orders whose names look like numbers, dates or truths are text; a customer like a formula is no formula."""
    finish = Finish(
        order=order, customer="=1+1", pieces=3, ready=None, due=None, finish=EIGHT, late_min=None, slack_min=None
    )
    row = Row(EIGHT, EIGHT, "load", press="window", pieces=(f"{order}-1-001",), order=order, line="1", layers=(1, 2))
    book = load_workbook(io.BytesIO(plan_workbook(EIGHT, [finish], [row])))
    told, timed = list(book["finish"].iter_rows())[1], list(book["timetable"].iter_rows())[1]
    names = [field.name for field in fields(Row)]
    for cell, value in (
        (told[0], order),
        (told[1], "=1+1"),
        (timed[names.index("order")], order),
        (timed[names.index("pieces")], f"{order}-1-001"),
        (timed[names.index("layers")], "1;2"),
    ):
        assert (cell.value, cell.data_type) == (value, "s")
    assert timed[0].value == EIGHT and timed[0].is_date


def test_every_row_is_there() -> None:
    """Both tables are whole, in the files' order, with times to the second, and the same plan makes the same bytes."""
    made = planned("team-shirts")
    data = plan_workbook(made.plan.start, made.plan.orders, made.rows)
    read = sheets(data)
    assert read["timetable"][0] == [field.name for field in fields(Row)]
    assert [row[:3] for row in read["timetable"][1:]] == [[row.start, row.end, row.what] for row in made.rows]
    assert [row[0] for row in read["finish"][1:]] == [order.order for order in made.plan.orders]
    assert data == plan_workbook(made.plan.start, made.plan.orders, made.rows)


def test_it_is_written_beside_the_plan(tmp_path: Path) -> None:
    """`spreadsheet --plan` writes plan.xlsx from plan/, over an older one; without a plan it says what is missing."""
    run = CliRunner()
    (tmp_path / "day").mkdir()
    words = ["spreadsheet", str(tmp_path / "day"), "--plan", "--json"]
    told = run.invoke(app, words)
    assert told.exit_code == 1 and "plan.json" in told.stderr
    made = planned("two-presses")
    write_plan(tmp_path / "day", made.plan, made.rows, "<!doctype html>")
    for _ in range(2):
        done = run.invoke(app, words)
        assert done.exit_code == 0 and json.loads(done.stdout) == {"written": "plan.xlsx"}
    assert not list((tmp_path / "day").glob(".plan-*.xlsx"))
    read = sheets((tmp_path / "day" / "plan.xlsx").read_bytes())
    assert isinstance(read["timetable"][1][0], datetime) and len(read["timetable"]) == len(made.rows) + 1
