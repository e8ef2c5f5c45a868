"""Plans in folders: timetable.csv, finish.csv and plan.json held against each other."""

from __future__ import annotations

import csv
import hashlib
import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from models.day import Day
from models.plan import Row
from models.problem import BadInput, Problem
from scheduler.audit import audit_folder, ledger
from tests.scheduler.audit import cases

COLUMNS = "start,end,what,press,person,loading,pieces,order,line,placement,operation,layers,temperature,pressure"


def cells(row: Row) -> list[str]:
    """A row as timetable.csv has it."""
    values = [row.start.isoformat(), row.end.isoformat(), row.what, row.press, row.person, row.loading]
    values += [";".join(row.pieces), row.order, row.line, row.placement, row.operation]
    values += [";".join(map(str, row.layers)), row.temperature, row.pressure]
    return ["" if value is None else str(value) for value in values]


def plan_of_plain() -> dict[str, Any]:
    """plan.json of the plain case, summed by hand: the orders are done at 8:11:46, 706 s after the start."""
    order = {"order": "A", "customer": "", "pieces": 2, "ready": None, "due": None}
    order |= {"finish": "2026-12-01T08:11:46", "late_min": None, "slack_min": None}
    goals = {"late_min": 0, "late_bound": 0, "work_min": 11.77, "work_bound": 11.0, "gap": 0.0654}
    campaign = {"press": "wall", "temperature": 305, "pressure": "medium", "pieces": 2}
    return {
        "format": "pressday-plan/1",
        "start": "2026-12-01T08:00:00",
        "finish": "2026-12-01T08:11:46",
        "status": "feasible",
        "goals": goals | {"changes": 0, "change_min": 0, "peel_wait_min": 0},
        "presses": [{"id": "wall", "busy_min": 11.57}],
        "people": [{"id": "ada", "busy_min": 0.87}],
        "orders": [order],
        "campaigns": [campaign | {"start": "2026-12-01T08:10:20", "end": "2026-12-01T08:11:40"}],
        "inputs": {"orders.csv": hashlib.sha256(b"as planned\n").hexdigest()},
    }


class Folder:
    """A written plan of the plain case, to be spoiled."""

    def __init__(self, path: Path) -> None:
        self.path = path
        (path / "plan").mkdir()
        (path / "orders.csv").write_bytes(b"as planned\n")
        day, rows = cases.plain()
        self.day: Day = replace(day, inputs={"orders.csv": hashlib.sha256(b"as planned\n").hexdigest()})
        self.write("timetable.csv", [COLUMNS.split(","), *map(cells, rows)])
        self.write("finish.csv", [ledger_columns(), ["A", "", "2", "", "", "2026-12-01T08:11:46", "", ""]])
        self.plan(lambda plan: None)

    def write(self, name: str, lines: list[list[str]]) -> None:
        """Write a CSV file of the plan."""
        with (self.path / "plan" / name).open("w", newline="", encoding="utf-8") as file:
            csv.writer(file).writerows(lines)

    def edit(self, name: str, line: int, column: str, value: str) -> None:
        """Put a value into a cell; the header is line 1."""
        with (self.path / "plan" / name).open(newline="", encoding="utf-8") as file:
            lines = list(csv.reader(file))
        lines[line - 1][lines[0].index(column)] = value
        self.write(name, lines)

    def plan(self, spoil: Callable[[dict[str, Any]], Any]) -> None:
        """Write plan.json after it went through `spoil`."""
        plan = plan_of_plain()
        spoil(plan)
        (self.path / "plan" / "plan.json").write_text(json.dumps(plan), encoding="utf-8")

    def findings(self) -> list[tuple[str, str]]:
        """(rule, where) of all findings."""
        return [(finding.rule, finding.where) for finding in audit_folder(self.path)]


def ledger_columns() -> list[str]:
    """finish.csv's first line."""
    return ["order", "customer", "pieces", "ready", "due", "finish", "late_min", "slack_min"]


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Folder:
    """A folder whose plan is right; its inputs are given, not read."""
    made = Folder(tmp_path)
    monkeypatch.setattr(ledger, "_day", lambda path, now: made.day)
    return made


def test_a_right_folder_has_no_finding(folder: Folder) -> None:
    """A plan whose three files agree with each other and the rules is passed."""
    assert folder.findings() == []


@pytest.mark.parametrize(
    ("column", "value"),
    [
        ("finish", "2026-12-01T08:11:47"),
        ("pieces", "3"),
        ("customer", "Gull"),
        ("due", "2026-12-01T09:00:00"),
        ("ready", "2026-12-01T08:00:00"),
        ("late_min", "1"),
        ("slack_min", "0"),
        ("order", "B"),
    ],
)
def test_finish_csv_is_checked(folder: Folder, column: str, value: str) -> None:
    """Every column of finish.csv is held against the timetable and orders.csv."""
    folder.edit("finish.csv", 2, column, value)
    assert ("finish", "finish.csv row 2") in folder.findings()


@pytest.mark.parametrize(
    ("late", "slack", "right"), [("1.77", "-1.77", True), ("1.77", "0", True), ("1.7", "-1.77", False)]
)
def test_late_orders_in_finish_csv(folder: Folder, late: str, slack: str, right: bool) -> None:
    """Due at 8:10 and done at 8:11:46 is 1.77 minutes late; its slack is as much below zero, or none."""
    (line,) = folder.day.lines
    due = line.model_copy(update={"due": folder.day.start.replace(minute=10)})
    folder.day = replace(folder.day, lines=(due,))
    folder.write(
        "finish.csv", [ledger_columns(), ["A", "", "2", "", "2026-12-01T08:10:00", "2026-12-01T08:11:46", late, slack]]
    )
    assert (("finish", "finish.csv row 2") not in folder.findings()) is right


def test_an_order_missing_from_finish_csv(folder: Folder) -> None:
    """Every order of the timetable has its line."""
    folder.write("finish.csv", [ledger_columns()])
    assert folder.findings() == [("finish", "finish.csv")]


WRONG_PLANS: list[tuple[str, Callable[[dict[str, Any]], Any], str]] = [
    ("late_min", lambda p: p["goals"].update(late_min=1), "goals"),
    ("work_min", lambda p: p["goals"].update(work_min=11.8, gap=0.0678), "goals"),
    ("changes", lambda p: p["goals"].update(changes=1), "goals"),
    ("change_min", lambda p: p["goals"].update(change_min=10.33), "goals"),
    ("peel_wait_min", lambda p: p["goals"].update(peel_wait_min=0.1), "goals"),
    ("a bound above its value", lambda p: p["goals"].update(work_bound=11.8, gap=0), "bounds"),
    ("a late bound above its value", lambda p: p["goals"].update(late_bound=0.5), "bounds"),
    ("the gap", lambda p: p["goals"].update(gap=0.05), "bounds"),
    ("optimal above its bound", lambda p: p.update(status="optimal"), "bounds"),
    ("start", lambda p: p.update(start="2026-12-01T08:00:01"), "plan-times"),
    ("finish", lambda p: p.update(finish="2026-12-01T08:11:45"), "plan-times"),
    ("format", lambda p: p.update(format="pressday-plan/2"), "plan-format"),
    ("a press's minutes", lambda p: p["presses"][0].update(busy_min=11.5), "busy"),
    ("a person's minutes", lambda p: p["people"][0].update(busy_min=0.9), "busy"),
    ("a person left out", lambda p: p.update(people=[]), "busy"),
    ("an unknown person", lambda p: p["people"].append({"id": "zoe", "busy_min": 0}), "busy"),
    ("an order's finish", lambda p: p["orders"][0].update(finish="2026-12-01T08:11:45"), "finish"),
    ("an order twice", lambda p: p["orders"].append(p["orders"][0]), "finish"),
    ("a campaign's setting", lambda p: p["campaigns"][0].update(temperature=306), "campaigns"),
    ("a campaign's pieces", lambda p: p["campaigns"][0].update(pieces=3), "campaigns"),
    ("a campaign too short", lambda p: p["campaigns"][0].update(end="2026-12-01T08:11:30", pieces=1), "campaigns"),
    ("a wrong hash", lambda p: p.update(inputs={"orders.csv": "0" * 64}), "inputs"),
    ("an input left out", lambda p: p.update(inputs={}), "inputs"),
    ("an input elsewhere", lambda p: p["inputs"].update({"../orders.csv": "0" * 64}), "inputs"),
    ("a status of its own", lambda p: p.update(status="good"), "file-damaged"),
    ("no goals", lambda p: p.pop("goals"), "file-damaged"),
]


@pytest.mark.parametrize(("spoil", "rule"), [(s, r) for _, s, r in WRONG_PLANS], ids=[w[0] for w in WRONG_PLANS])
def test_plan_json_is_checked(folder: Folder, spoil: Callable[[dict[str, Any]], Any], rule: str) -> None:
    """Every figure of plan.json is held against the rows, its inputs against the files as they are now."""
    folder.plan(spoil)
    found = folder.findings()
    assert found and {name for name, _ in found} == {rule}
    assert all(where.startswith("plan.json") for _, where in found)


def test_inputs_that_changed(folder: Folder) -> None:
    """A file edited since the plan was made is told."""
    (folder.path / "orders.csv").write_bytes(b"one piece more\n")
    assert folder.findings() == [("inputs", "plan.json, inputs, orders.csv")]


@pytest.mark.parametrize(
    ("column", "value"),
    [
        ("start", "2026-12-01 08:10:20"),
        ("end", "2026-12-01T08:10:20+01:00"),
        ("end", "2026-13-01T08:10:20"),
        ("what", "press"),
        ("loading", "one"),
        ("operation", "1.5"),
        ("layers", "1,2"),
        ("temperature", "305.5"),
        ("loading", "9" * 5000),
    ],
)
def test_damaged_cells(folder: Folder, column: str, value: str) -> None:
    """A cell that cannot be read is told with its row and column, and what would be right."""
    folder.edit("timetable.csv", 4, column, value)
    first = audit_folder(folder.path)[0]
    assert (first.rule, first.where) == ("file-damaged", "timetable.csv row 4")
    assert f'column "{column}"' in first.message


@pytest.mark.parametrize("name", ["timetable.csv", "finish.csv", "plan.json"])
@pytest.mark.parametrize(
    ("content", "rule"),
    [
        (None, "file-missing"),
        (b"", "file-damaged"),
        (b"\xff\xfe", "file-damaged"),
        (b'"', "file-damaged"),
        (b"{[1", "file-damaged"),
    ],
)
def test_damaged_files(folder: Folder, name: str, content: bytes | None, rule: str) -> None:
    """A missing, empty, broken or foreign file is told by its name, and the others are still checked."""
    path = folder.path / "plan" / name
    path.unlink()
    if content is not None:
        path.write_bytes(content)
    assert any(found == rule and where.startswith(name) for found, where in folder.findings())


@pytest.mark.parametrize("cut", [100, 400, 700, -1])
def test_truncated_timetables(folder: Folder, cut: int) -> None:
    """A timetable cut off anywhere is told, never passed."""
    path = folder.path / "plan" / "timetable.csv"
    path.write_bytes(path.read_bytes()[:cut].rstrip())
    found = folder.findings()
    assert found or cut == -1


def test_apostrophes_before_signs(folder: Folder) -> None:
    """Names that a spreadsheet would read as formulas are written with an apostrophe and read without it."""
    folder.edit("finish.csv", 2, "customer", "'=Gull")
    (line,) = folder.day.lines
    folder.day = replace(folder.day, lines=(line.model_copy(update={"customer": "=Gull"}),))
    assert [where for _, where in folder.findings()] == ["plan.json, orders 1"]


def test_a_wrong_folder_gives_its_problems(folder: Folder, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the inputs themselves are wrong, their problems are the findings."""

    def refuse(path: Path, now: object) -> Day:
        raise BadInput([Problem("shop.toml", 'press "wall"', "platen", "-1", "must be above 0", "Give its size.")])

    monkeypatch.setattr(ledger, "_day", refuse)
    assert folder.findings() == [("input", "shop.toml")]
