"""timetable.csv and plan.json read back; what is damaged is told by file, row and field.

Only what cannot be read is refused here. Whether what it says is right is the auditor's business.
"""

from __future__ import annotations

import csv
import io
import json
import math
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import fields
from datetime import datetime
from pathlib import Path
from typing import Any, NoReturn, get_args

from pydantic import ValidationError

from models.plan import FORMAT, Plan, Row, What
from models.problem import in_plain_words
from scheduler.intake.findings import Findings, show, suggest
from scheduler.output.cells import as_written

_KINDS: tuple[str, ...] = get_args(What)
_COLUMNS = tuple(field.name for field in fields(Row))
_AGAIN = "Plan again, or take back a plan from plans-before"
_MOST = 50  # problems of one file that are told


def read_timetable(path: Path) -> list[Row]:
    """The rows of timetable.csv as they stand. Raises BadInput with every cell that cannot be read."""
    found = Findings()
    grid = _grid(_text(path, found), path.name, found)
    header = next(grid, (0, []))[1]
    _check_header(header, path.name, found)
    rows = []
    for number, cells in grid:
        row = _row(dict(zip(header, cells, strict=False)), len(cells) - len(header), path.name, number, found)
        if row is not None:
            rows.append(row)
        if len(found) >= _MOST:
            break
    found.raise_any()
    return rows


def read_plan(path: Path) -> Plan:
    """plan.json. Raises BadInput with every field that is missing or cannot be read."""
    found = Findings()
    data = _json(_text(path, found), path.name, found)
    if not isinstance(data, dict):
        found.add(path.name, "", "", show(data), "this is no plan", _AGAIN)
        found.raise_any()
    if data.get("format", FORMAT) != FORMAT:
        wrong = "another kind of plan than this program reads"
        found.add(path.name, "", "format", show(data["format"]), wrong, f'This program reads "{FORMAT}": plan again')
        found.raise_any()
    try:
        plan = Plan.model_validate(data)
    except ValidationError as error:
        for item in error.errors(include_url=False)[:_MOST]:
            place = ".".join(str(part + 1 if isinstance(part, int) else part) for part in item["loc"])
            value = "" if item["type"] == "missing" else show(item["input"])
            found.add(path.name, "", place, value, _lower(in_plain_words(item["msg"])), _AGAIN)
        found.raise_any()
        raise
    for place, value in _odd_values(plan.model_dump()):
        found.add(
            path.name, "", place, str(value), "this must be a plain number or a local time without a zone", _AGAIN
        )
    found.raise_any()
    return plan


def _text(path: Path, found: Findings) -> str:
    """The file's text; raises BadInput where it cannot be read at all."""
    try:
        return path.read_bytes().decode("utf-8-sig")
    except FileNotFoundError:
        found.add(path.name, "", "", "", f"there is no {path.name} in {path.parent}", "Plan first: pressday plan DIR")
    except UnicodeDecodeError as error:
        line = error.object[: error.start].count(b"\n") + 1
        value = f"byte 0x{error.object[error.start]:02x}"
        found.add(path.name, f"line {line}", "", value, "the text is not UTF-8", _AGAIN)
    except OSError as error:
        found.add(path.name, "", "", "", f"it cannot be read ({error.strerror})", "Check the file and its rights")
    found.raise_any()
    raise AssertionError("a problem was noted")


def _grid(text: str, name: str, found: Findings) -> Iterator[tuple[int, list[str]]]:
    """Rows with their number in the table, the header's is 1; raises BadInput where the quoting is broken."""
    reader = csv.reader(io.StringIO(text, newline=""), strict=True)
    number = 0
    try:
        for number, cells in enumerate(reader, 1):
            if cells:
                yield number, cells
    except csv.Error as error:
        found.add(name, f"row {number + 1}", "", "", f"the row cannot be told apart ({error})", _AGAIN)
        found.raise_any()


def _check_header(header: Sequence[str], name: str, found: Findings) -> None:
    for column in _COLUMNS:
        if header.count(column) > 1:
            found.add(name, "row 1 (header)", column, "", "this column stands twice", _AGAIN)
        elif column not in header:
            found.add(name, "row 1 (header)", column, "", "this column is missing", _AGAIN)
    found.raise_any()


class _Unreadable(Exception):
    """A cell's fault and what would be right."""


def _row(cells: Mapping[str, str], beyond: int, name: str, number: int, found: Findings) -> Row | None:
    where = f"row {number}"
    if beyond:
        wrong = f"the row has {abs(beyond)} {'cells too many' if beyond > 0 else 'cells too few'}"
        found.add(name, where, "", "", wrong, _AGAIN)
        return None
    read: dict[str, Any] = {}
    for column in _COLUMNS:
        try:
            read[column] = _READ[column](as_written(cells[column]))
        except _Unreadable as fault:
            wrong, right = fault.args
            found.add(name, where, column, show(cells[column]) if cells[column] else "", wrong, right)
    if len(read) < len(_COLUMNS):
        return None
    if read["end"] < read["start"]:
        found.add(name, where, "end", cells["end"], f"it ends before it starts ({cells['start']})", _AGAIN)
    return Row(**read)


def _moment(cell: str) -> datetime:
    try:
        if re.fullmatch(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d", cell, re.ASCII):
            return datetime.fromisoformat(cell)
    except ValueError:
        pass
    raise _Unreadable("this is no time" if cell else "a time is missing", "Times are written 2026-12-01T08:00:00")


def _what(cell: str) -> str:
    if cell in _KINDS:
        return cell
    raise _Unreadable("there is no such kind of row" if cell else "it is missing", suggest(cell, _KINDS, "kind of row"))


def _name(cell: str) -> str | None:
    return cell or None


def _names(cell: str) -> tuple[str, ...]:
    return tuple(cell.split(";")) if cell else ()


def _whole(cell: str) -> int | None:
    return _digits(cell, r"-?\d{1,9}", "a whole number is wanted") if cell else None


def _counting(cell: str) -> int | None:
    return _digits(cell, r"0*[1-9]\d{0,8}", "a whole number from 1 is wanted") if cell else None


def _layers(cell: str) -> tuple[int, ...]:
    wrong = "numbers from 1 joined by ; are wanted"
    return tuple(_digits(part, r"[1-9]\d{0,3}", wrong) for part in cell.split(";")) if cell else ()


def _digits(cell: str, pattern: str, wrong: str) -> int:
    if re.fullmatch(pattern, cell, re.ASCII):
        return int(cell)
    raise _Unreadable(wrong, _AGAIN)


_READ: dict[str, Callable[[str], object]] = {
    "start": _moment,
    "end": _moment,
    "what": _what,
    "press": _name,
    "person": _name,
    "loading": _counting,
    "pieces": _names,
    "order": _name,
    "line": _name,
    "placement": _name,
    "operation": _counting,
    "layers": _layers,
    "temperature": _whole,
    "pressure": _name,
}


def _json(text: str, name: str, found: Findings) -> Any:
    """What the file holds; raises BadInput where it is no JSON."""
    try:
        return json.loads(text, parse_constant=_no_number)
    except json.JSONDecodeError as error:
        found.add(name, f"line {error.lineno}", "", "", f"the file breaks off or is no JSON ({error.msg})", _AGAIN)
    except RecursionError:
        found.add(name, "", "", "", "it is nested far too deep", _AGAIN)
    except ValueError as error:
        found.add(name, "", "", "", f"a number in it cannot be read ({error})", _AGAIN)
    found.raise_any()
    return None


def _no_number(word: str) -> NoReturn:
    raise ValueError(word)


def _lower(message: str) -> str:
    return message[:1].lower() + message[1:]


def _odd_values(value: Any, place: str = "") -> Iterator[tuple[str, Any]]:
    """Infinite numbers (1e999 in JSON) and times with a zone or parts of a second."""
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from _odd_values(inner, f"{place}.{key}".strip("."))
    elif isinstance(value, (tuple, list)):
        for number, inner in enumerate(value, 1):
            yield from _odd_values(inner, f"{place}.{number}")
    elif (isinstance(value, float) and not math.isfinite(value)) or (
        isinstance(value, datetime) and (value.tzinfo is not None or value.microsecond)
    ):
        yield place, value
