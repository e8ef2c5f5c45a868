"""Damaged files of a plan are told by file, row and field."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from models.problem import BadInput, Problem
from scheduler.output.files import plan_json, timetable_csv
from scheduler.output.reading import read_plan, read_timetable
from tests.scheduler.output.planned import loading, planned, row

ROWS = [row(0, 5, "change"), *loading(1, 5), row(6, 7, "peel", 1, press=None, person="ada", layers=(1, 2))]


def _problems(read: Callable[[Path], object], path: Path) -> tuple[Problem, ...]:
    with pytest.raises(BadInput) as caught:
        read(path)
    assert all(problem.file == path.name and problem.wrong and problem.right for problem in caught.value.problems)
    return caught.value.problems


def _timetable(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "timetable.csv"
    path.write_text(text, encoding="utf-8", newline="")
    return path


@pytest.mark.parametrize(
    ("column", "value", "wrong"),
    [
        ("start", "", "a time is missing"),
        ("start", "8 o'clock", "no time"),
        ("start", "2026-02-30T08:00:00", "no time"),
        ("end", "2026-12-01T09:00:00Z", "no time"),
        ("end", "2026-12-01T07:00:00", "ends before it starts"),
        ("what", "iron", "no such kind of row"),
        ("what", "", "missing"),
        ("loading", "0", "from 1"),
        ("loading", "two", "from 1"),
        ("loading", "1" * 40, "from 1"),
        ("operation", "-1", "from 1"),
        ("layers", "1;;2", "joined by ;"),
        ("layers", "1;x", "joined by ;"),
        ("temperature", "300.5", "whole number"),
        ("temperature", "nan", "whole number"),
        ("temperature", "٣٠٠", "whole number"),
    ],
)
def test_a_cell_that_cannot_be_read(column: str, value: str, wrong: str, tmp_path: Path) -> None:
    """A spoiled cell is told with its row, its column and what stands there."""
    lines = timetable_csv(ROWS).split("\r\n")
    cells = lines[2].split(",")
    cells[lines[0].split(",").index(column)] = value
    lines[2] = ",".join(cells)
    (problem,) = _problems(read_timetable, _timetable(tmp_path, "\r\n".join(lines)))
    assert (problem.where, problem.field) == ("row 3", column)
    assert wrong in problem.wrong and value[:20] in problem.value


def test_every_cell_is_told_at_once(tmp_path: Path) -> None:
    """All damage of a timetable comes in one message, row by row, but no more than fifty rows of it."""
    text = timetable_csv(ROWS).replace("window", "wall").replace(",front,1,", ",front,one,")
    assert [p.where for p in _problems(read_timetable, _timetable(tmp_path, text))] == [f"row {n}" for n in range(3, 8)]
    many = timetable_csv(ROWS[1:2] * 500).replace(",front,1,", ",front,one,")
    assert len(_problems(read_timetable, _timetable(tmp_path, many))) == 50


@pytest.mark.parametrize(
    ("spoil", "where", "wrong"),
    [
        (lambda text: "", "row 1 (header)", "column is missing"),
        (lambda text: text.replace("layers", "strata"), "row 1 (header)", "column is missing"),
        (lambda text: text.replace("layers", "line"), "row 1 (header)", "stands twice"),
        (lambda text: text[:-60], "row 7", "cells too few"),
        (lambda text: text.replace(",load,", ",load,more,"), "row 3", "cells too many"),
        (lambda text: text.replace(",load,", ',"load"x,'), "row 3", "told apart"),
        (lambda text: text + '"open', "row 8", "told apart"),
    ],
)
def test_a_table_out_of_joint(spoil: Callable[[str], str], where: str, wrong: str, tmp_path: Path) -> None:
    """A table cut off, without a column or with broken quotes is told with the place."""
    problems = _problems(read_timetable, _timetable(tmp_path, spoil(timetable_csv(ROWS))))
    assert any(problem.where == where and wrong in problem.wrong for problem in problems)


def test_what_the_auditor_judges_is_read(tmp_path: Path) -> None:
    """Blank names and further columns can be read; whether they are right is not the reader's business."""
    text = timetable_csv([row(0, 1, "load", 1, person=None, order=None)]).replace("\r\n", ",note\r\n", 1)
    text = text.replace("medium\r\n", "medium,by hand\r\n")
    (read,) = read_timetable(_timetable(tmp_path, "\ufeff" + text.replace("\r\n", "\n") + "\n\n"))
    assert read == row(0, 1, "load", 1, person=None, order=None)


@pytest.mark.parametrize(("read", "name"), [(read_timetable, "timetable.csv"), (read_plan, "plan.json")])
def test_a_file_that_cannot_be_opened(read: Callable[[Path], object], name: str, tmp_path: Path) -> None:
    """A missing file, a folder in its place and bytes that are no text are told."""
    assert "there is no" in _problems(read, tmp_path / name)[0].wrong
    (tmp_path / name).write_bytes(b"start,end\n\xff\xfe")
    (problem,) = _problems(read, tmp_path / name)
    assert (problem.where, problem.value, problem.wrong) == ("line 2", "byte 0xff", "the text is not UTF-8")
    (tmp_path / name).unlink()
    (tmp_path / name).mkdir()
    assert "cannot be read" in _problems(read, tmp_path / name)[0].wrong


def _plan(tmp_path: Path, change: Callable[[dict[str, Any]], object]) -> Path:
    data = json.loads(plan_json(planned("two-presses").plan))
    change(data)
    path = tmp_path / "plan.json"
    path.write_text(json.dumps(data), encoding="utf-8")
    return path


@pytest.mark.parametrize(
    ("change", "field"),
    [
        (lambda d: d.pop("goals"), "goals"),
        (lambda d: d["goals"].pop("gap"), "goals.gap"),
        (lambda d: d["goals"].update(gap="wide"), "goals.gap"),
        (lambda d: d["goals"].update(late_min=float("1e999")), ""),
        (lambda d: d.update(format="pressday-plan/9"), "format"),
        (lambda d: d.update(status="perfect"), "status"),
        (lambda d: d.update(start="yesterday"), "start"),
        (lambda d: d.update(start="2026-12-10T08:00:00+01:00"), "start"),
        (lambda d: d["orders"][1].update(finish="2026-12-10T08:00:00.25"), "orders.2.finish"),
        (lambda d: d["campaigns"][0].update(temperature=300.5), "campaigns.1.temperature"),
        (lambda d: d.update(presses={"a": 1}), "presses"),
    ],
)
def test_a_field_of_the_plan(change: Callable[[dict[str, Any]], object], field: str, tmp_path: Path) -> None:
    """A field that is missing or cannot be read is told by its path, parts of lists counted from 1."""
    assert [problem.field for problem in _problems(read_plan, _plan(tmp_path, change))] == [field]


@pytest.mark.parametrize(
    ("text", "where"),
    [
        ('{"format": "pressday-plan/1",\n "start": ', "line 2"),
        ("", "line 1"),
        ("[]", ""),
        ("null", ""),
        ("[" * 100_000, ""),
        ('{"seed": NaN}', ""),
        ('{"seed": 1' + "0" * 5000 + "}", ""),
    ],
    ids=["cut off", "empty", "list", "null", "deep", "nan", "long number"],
)
def test_no_plan_at_all(text: str, where: str, tmp_path: Path) -> None:
    """A file cut off or of another kind is told, with the line where there is one."""
    (tmp_path / "plan.json").write_text(text)
    assert _problems(read_plan, tmp_path / "plan.json")[0].where == where


def test_an_infinite_figure(tmp_path: Path) -> None:
    """A number beyond all bounds is no figure."""
    path = _plan(tmp_path, lambda d: d["goals"].update(work_min=123456.5))
    path.write_text(path.read_text().replace("123456.5", "1e999"))
    assert [problem.field for problem in _problems(read_plan, path)] == ["goals.work_min"]


def test_unknown_fields_are_allowed(tmp_path: Path) -> None:
    """Fields that later versions add are passed over."""
    assert read_plan(_plan(tmp_path, lambda d: d.update(weather="fine"))) == planned("two-presses").plan
