"""The audit stands apart and stands everything."""

from __future__ import annotations

import ast
from dataclasses import fields, replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

import scheduler.audit
from models.plan import Row
from scheduler.audit import Finding, audit_rows, measure
from tests.scheduler.audit.cases import GOOD

ROOM = Path(scheduler.audit.__file__).parent


def imports(path: Path) -> set[str]:
    """The modules a file names in its imports, wherever they stand in it."""
    named: set[str] = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.ImportFrom):
            named.add(node.module or "")
        elif isinstance(node, ast.Import):
            named |= {alias.name for alias in node.names}
    return named


@pytest.mark.parametrize("path", sorted(ROOM.glob("*.py")), ids=lambda path: path.name)
def test_the_audit_shares_no_code_with_what_it_audits(path: Path) -> None:
    """Of this project it imports the models, itself, and the reading of a day folder; no formula of the models."""
    own = {name for name in imports(path) if name.split(".")[0] in ("models", "scheduler")}
    strange = {n for n in own if not n.startswith(("models.", "scheduler.audit")) and n != "scheduler.intake"}
    assert not strange
    assert "models.operation" not in own


VALUES: dict[str, st.SearchStrategy[object]] = {
    "start": st.integers(-90_000, 2_000_000).map(lambda s: datetime(2026, 12, 1, 8) + timedelta(seconds=s)),
    "what": st.sampled_from(["change", "load", "prepress", "align", "dwell", "unload", "peel"]),
    "press": st.sampled_from([None, "wall", "window", "door"]),
    "person": st.sampled_from([None, "ada", "ben", "zoe"]),
    "loading": st.sampled_from([None, -1, 0, 1, 2, 3, 99]),
    "pieces": st.lists(st.sampled_from(["A-1-001", "A-1-002", "B-1-001", ""]), max_size=3).map(tuple),
    "order": st.sampled_from([None, "A", "B"]),
    "line": st.sampled_from([None, "1", "2"]),
    "placement": st.sampled_from([None, "front", "back", "hem"]),
    "operation": st.sampled_from([None, -1, 0, 1, 2, 9]),
    "layers": st.lists(st.integers(-1, 3), max_size=3).map(tuple),
    "temperature": st.sampled_from([None, -40, 0, 72, 305, 322, 9999]),
    "pressure": st.sampled_from([None, "", "medium", "firm", "odd"]),
}
VALUES["end"] = VALUES["start"]


def test_every_field_of_a_row_is_spoiled() -> None:
    """A field added to a row has to get values here."""
    assert {field.name for field in fields(Row)} == VALUES.keys()


@settings(max_examples=150, deadline=None)
@given(st.sampled_from(sorted(GOOD)), st.data())
def test_any_rows_are_judged(name: str, data: st.DataObject) -> None:
    """Whatever stands in the rows, the audit answers with findings and the figures can be measured."""
    day, rows = GOOD[name]()
    spoiled = list(rows)
    for _ in range(data.draw(st.integers(1, 5))):
        place = data.draw(st.integers(0, len(rows) - 1))
        column = data.draw(st.sampled_from(sorted(VALUES)))
        spoiled[place] = replace(spoiled[place], **{column: data.draw(VALUES[column])})  # type: ignore[arg-type]
    found = audit_rows(day, spoiled)
    assert all(isinstance(finding, Finding) and finding.rule and finding.message for finding in found)
    assert measure(day, spoiled).work_min >= 0


def test_no_rows_at_all() -> None:
    """An empty timetable lacks every piece, and comes to nothing."""
    day, _ = GOOD["plain"]()
    assert [finding.rule for finding in audit_rows(day, [])] == ["piece-missing"]
    assert measure(day, []).work_min == 0
