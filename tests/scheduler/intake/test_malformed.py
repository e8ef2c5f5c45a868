"""Malformed folders, made by the hundred: BadInput with a place and a reason, never another exception."""

from __future__ import annotations

import json
import re
import tempfile
from datetime import datetime
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from models.day import Day
from models.problem import BadInput
from scheduler.intake import read_day
from scheduler.intake.begin import starter_texts
from scheduler.intake.describe import describe
from scheduler.intake.hints import RIGHT

NOW = datetime(2026, 12, 1, 7, 0)
SOUND = {name: text.encode() for name, text in starter_texts(NOW).items()}
FILES = sorted(SOUND)
TOMLS = [name for name in FILES if name.endswith(".toml")]
TABLES = [name for name in FILES if name.endswith(".csv")]

QUICK = settings(max_examples=60, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True)

# What may stand where a value should: TOML's own spelling.
WRONG_VALUES = (
    '""', '"x"', "true", "false", "0", "-1", "1e300", "-1e300", "nan", "-inf", "[]", "[[]]", "[1, 2, 3]", '["", 1]',
    "{}", "{ a = 1 }", "2026-12-01", "08:00:00", "2026-12-01T08:00:00Z", "999999999999999999999999999999",
    "0xffffffffffffffffffffff", '"\\u0000"', '"\\u001b[31m"', '"=1+1"', '"a;b"', "[[1, 2], [3, 4]]", "1.5",
    "'''x\ny'''",
)  # fmt: skip


def outcome(files: dict[str, bytes | None]) -> Day | tuple:
    """The Day, or the problems; None for a file's bytes puts a folder in its place."""
    with tempfile.TemporaryDirectory() as place:
        for name, data in files.items():
            if data is None:
                (Path(place) / name).mkdir()
            else:
                (Path(place) / name).write_bytes(data)
        try:
            day = read_day(Path(place), NOW)
        except BadInput as error:
            _well_said(error)
            return error.problems
    assert describe(day)
    return day


def _well_said(error: BadInput) -> None:
    assert error.problems
    for problem in error.problems:
        assert problem.file in {*FILES, "orders.xlsx", "log.csv"}
        assert problem.wrong and problem.right, problem
        assert str(problem).isprintable(), problem
        assert not re.search("Input should|Field required|Extra inputs|should be a valid", problem.wrong), problem
        assert len(str(problem)) < 900


@QUICK
@given(st.sampled_from(FILES), st.floats(0, 1))
def test_truncated_files(name, part):
    """A file cut anywhere is read or refused in words."""
    outcome(SOUND | {name: SOUND[name][: int(len(SOUND[name]) * part)]})


@QUICK
@given(st.sampled_from(FILES), st.floats(0, 1), st.binary(min_size=1, max_size=6))
def test_bytes_thrown_in(name, part, junk):
    """Any bytes anywhere in any file."""
    at = int(len(SOUND[name]) * part)
    outcome(SOUND | {name: SOUND[name][:at] + junk + SOUND[name][at:]})


@QUICK
@given(st.sampled_from(FILES), st.floats(0, 1), st.sampled_from([b"\0", b"\x81\x00", b"\x00\xff\xfe"]))
def test_nul_bytes_and_no_encoding(name, part, junk):
    """What belongs to no text is always refused."""
    at = int(len(SOUND[name]) * part)
    assert isinstance(outcome(SOUND | {name: SOUND[name][:at] + junk + SOUND[name][at:]}), tuple)


@settings(QUICK, max_examples=250)
@given(st.sampled_from(TOMLS), st.integers(0, 200), st.sampled_from(WRONG_VALUES))
def test_wrong_values(name, number, value):
    """Any value of any key replaced by one of another type, by a huge or by a senseless one."""
    text = SOUND[name].decode()
    spots = list(re.finditer(r"^( *[a-z_]+ = )([^#\n]*[^#\s])", text, re.MULTILINE))
    spot = spots[number % len(spots)]
    outcome(SOUND | {name: (text[: spot.start(2)] + value + text[spot.end(2) :]).encode()})


@QUICK
@given(st.sampled_from(TOMLS), st.integers(0, 200))
def test_keys_left_out_and_misspelt(name, number):
    """A misspelt key is always an error."""
    text = SOUND[name].decode()
    spots = list(re.finditer(r"^( *)([a-z_]+)( = )", text, re.MULTILINE))
    spot = spots[number % len(spots)]
    spoilt = text[: spot.start(2)] + spot[2] + "x" + text[spot.end(2) :]
    problems = outcome(SOUND | {name: spoilt.encode()})
    assert isinstance(problems, tuple)
    assert any(p.field.endswith(spot[2] + "x") and spot[2] in p.right for p in problems)


@QUICK
@given(st.sampled_from(TOMLS), st.integers(0, 200))
def test_lines_twice(name, number):
    """A line or a whole table that stands twice."""
    lines = SOUND[name].decode().splitlines()
    at = number % len(lines)
    outcome(SOUND | {name: "\n".join([*lines[:at], lines[at], *lines[at:]]).encode()})


_leaves = st.one_of(
    st.booleans(), st.integers(), st.floats(allow_nan=False, allow_infinity=False), st.text(max_size=12)
)
_values = st.recursive(_leaves, lambda inner: st.lists(inner, max_size=4), max_leaves=8)
_fields = sorted({key.split(".")[1] for key in RIGHT})


def _toml(value: object) -> str:
    """A drawn value in TOML's spelling; JSON's is the same but for what TOML cannot hold."""
    if isinstance(value, list):
        return f"[{', '.join(map(_toml, value))}]"
    text = value.encode("utf-8", "ignore").decode() if isinstance(value, str) else value
    return json.dumps(text)


@settings(QUICK, max_examples=200)
@given(st.sampled_from(TOMLS), st.dictionaries(st.sampled_from(_fields), _values, max_size=12), st.data())
def test_tables_of_anything(name, drawn, data):
    """Known keys in any table with any values."""
    top = {"shop.toml": ["press", "person"], "catalog.toml": ["film", "garment"], "designs.toml": ["design"]}[name]
    head = data.draw(st.sampled_from(["", *(f"[[{key}]]" for key in top), *(f"[{key}]" for key in top), "[units]"]))
    body = "\n".join(f"{key} = {_toml(value)}" for key, value in drawn.items())
    assert isinstance(outcome(SOUND | {name: f"{head}\n{body}\n".encode()}), tuple)


@QUICK
@given(st.sampled_from(TABLES), st.integers(1, 5), st.integers(0, 9), st.text(max_size=20))
def test_any_text_in_any_cell(name, row, column, text):
    """Quoted as RFC 4180 has it, any text in any cell is read or refused in words."""
    rows = [line.split(",") for line in SOUND[name].decode().splitlines()]
    quoted = text.encode("utf-8", "ignore").decode().replace('"', '""')
    rows[row][column % len(rows[row])] = f'"{quoted}"'
    outcome(SOUND | {name: "\n".join(map(",".join, rows)).encode()})


@QUICK
@given(st.sampled_from(TABLES), st.text(alphabet=',;\t"\n\r ab1é\0', max_size=80))
def test_tables_of_separators(name, text):
    """Files of quotes, separators and line breaks."""
    assert isinstance(outcome(SOUND | {name: text.encode()}), tuple)


@QUICK
@given(st.binary(max_size=300))
def test_any_bytes_as_a_workbook(data):
    """orders.xlsx may hold anything."""
    files = {name: content for name, content in SOUND.items() if name != "orders.csv"}
    assert isinstance(outcome(files | {"orders.xlsx": b"PK\x03\x04" + data}), tuple)


@pytest.mark.parametrize("name", [*FILES, "orders.xlsx", "log.csv"])
def test_a_folder_in_place_of_any_file(name):
    """Each file may be a folder."""
    problems = outcome(SOUND | {name: None})
    assert isinstance(problems, tuple) and any(p.file == name for p in problems)


@pytest.mark.parametrize("name", TABLES)
def test_a_table_with_a_hundred_columns(name):
    """A table that is another one altogether."""
    table = "\n".join([",".join(f"c{n}" for n in range(100)), *(",".join("1" * 100) for _ in range(50))])
    assert isinstance(outcome(SOUND | {name: table.encode()}), tuple)


def test_everything_wrong_at_once():
    """All files broken: each has its problem."""
    problems = outcome(dict.fromkeys(FILES, b"\xff\xff = ["))
    assert {p.file for p in problems} == set(FILES)
