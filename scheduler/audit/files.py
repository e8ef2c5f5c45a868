"""timetable.csv and finish.csv read back, with every damaged cell told."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from typing import Any, Generic, TypeVar, get_args

from models.plan import Finish, Row, What
from scheduler.audit.finding import Finding

TIMETABLE = "start,end,what,press,person,loading,pieces,order,line,placement,operation,layers,temperature,pressure"
FINISH = "order,customer,pieces,ready,due,finish,late_min,slack_min"

T = TypeVar("T")
Cells = dict[str, str]


class Damaged(ValueError):
    """A cell that cannot be read; says what would be right."""


@dataclass
class Sheet(Generic[T]):
    """What was read of a file: the good rows, their lines in it (the header is 1), and what is damaged."""

    rows: list[T] = field(default_factory=list)
    lines: list[int] = field(default_factory=list)
    damage: list[Finding] = field(default_factory=list)


def read_timetable(path: Path) -> Sheet[Row]:
    """The rows of timetable.csv; a row with a damaged cell is told and left out."""
    return _read(path, TIMETABLE.split(","), _row)


def read_finish(path: Path) -> Sheet[Finish]:
    """The rows of finish.csv."""
    return _read(path, FINISH.split(","), _finish)


def text_of(path: Path) -> str | Finding:
    """A file's text, or what keeps it from being read."""
    try:
        return path.read_bytes().decode("utf-8-sig")
    except FileNotFoundError:
        return Finding("file-missing", path.name, "the file is not there; plan the day to write it")
    except UnicodeDecodeError as error:
        return Finding("file-damaged", path.name, f"byte {error.start} is not UTF-8 text")
    except OSError as error:
        return Finding("file-damaged", path.name, f"cannot be read: {error.strerror}")


def _read(path: Path, columns: list[str], build: Callable[[Cells], T]) -> Sheet[T]:
    sheet: Sheet[T] = Sheet()
    text = text_of(path)
    if isinstance(text, Finding):
        sheet.damage.append(text)
        return sheet
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    try:
        header = next(reader, [])
        missing = [name for name in columns if header.count(name) != 1]
        if missing:
            right = f"the first line must name once each: {', '.join(columns)}; wrong: {', '.join(missing)}"
            sheet.damage.append(Finding("file-damaged", f"{path.name} row 1", right))
            return sheet
        for cells in reader:
            _take(sheet, path.name, reader.line_num, header, cells, build)
    except csv.Error as error:
        sheet.damage.append(Finding("file-damaged", f"{path.name} row {reader.line_num}", f"not a CSV line: {error}"))
    return sheet


def _take(
    sheet: Sheet[T], name: str, line: int, header: list[str], cells: list[str], build: Callable[[Cells], T]
) -> None:
    where = f"{name} row {line}"
    if len(cells) != len(header):
        text = f"{len(cells)} cells where the first line names {len(header)} columns"
        sheet.damage.append(Finding("file-damaged", where, text))
        return
    try:
        sheet.rows.append(build(dict(zip(header, map(_plain, cells), strict=True))))
        sheet.lines.append(line)
    except Damaged as error:
        sheet.damage.append(Finding("file-damaged", where, str(error)))


def _plain(cell: str) -> str:
    """A cell without the apostrophe that keeps spreadsheets from reading it as a formula."""
    return cell[1:] if re.match(r"'+[=+\-@\t\r\n＝＋－＠]", cell) else cell


def _row(cells: Cells) -> Row:
    what: Any = cells["what"]
    if what not in get_args(What):
        raise Damaged(f'column "what", "{what}": one of {", ".join(get_args(What))}')
    return Row(
        start=_moment(cells, "start"),
        end=_moment(cells, "end"),
        what=what,
        press=cells["press"] or None,
        person=cells["person"] or None,
        loading=_whole(cells, "loading"),
        pieces=tuple(cells["pieces"].split(";")) if cells["pieces"] else (),
        order=cells["order"] or None,
        line=cells["line"] or None,
        placement=cells["placement"] or None,
        operation=_whole(cells, "operation"),
        layers=_layers(cells),
        temperature=_whole(cells, "temperature"),
        pressure=cells["pressure"] or None,
    )


def _finish(cells: Cells) -> Finish:
    return Finish(
        order=cells["order"],
        customer=cells["customer"],
        pieces=_whole(cells, "pieces") or 0,
        ready=_moment(cells, "ready") if cells["ready"] else None,
        due=_moment(cells, "due") if cells["due"] else None,
        finish=_moment(cells, "finish"),
        late_min=_number(cells, "late_min"),
        slack_min=_number(cells, "slack_min"),
    )


def _moment(cells: Cells, column: str) -> datetime:
    found = cells[column]
    if re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d", found, re.ASCII):
        try:
            return datetime.fromisoformat(found)
        except ValueError:
            pass
    raise Damaged(f'column "{column}", "{found}": a time is written as 2026-12-01T08:00:00')


def _whole(cells: Cells, column: str) -> int | None:
    found = cells[column]
    if not found:
        return None
    if not re.fullmatch(r"-?\d{1,9}", found, re.ASCII):
        raise Damaged(f'column "{column}", "{found}": a whole number is wanted')
    return int(found)


def _number(cells: Cells, column: str) -> float | None:
    found = cells[column]
    if not found:
        return None
    if not re.fullmatch(r"-?\d{1,9}(\.\d{1,9})?", found, re.ASCII):
        raise Damaged(f'column "{column}", "{found}": a number of minutes is wanted')
    return float(found)


def _layers(cells: Cells) -> tuple[int, ...]:
    found = cells["layers"]
    if not re.fullmatch(r"(\d{1,4}(;\d{1,4})*)?", found, re.ASCII):
        raise Damaged(f'column "layers", "{found}": layer numbers joined by ; as 1;3')
    return tuple(int(number) for number in found.split(";")) if found else ()
