"""Timetables that are right."""

from __future__ import annotations

import pytest

from scheduler.audit import audit_rows
from tests.scheduler.audit.cases import GOOD


@pytest.mark.parametrize("name", GOOD)
def test_a_right_timetable_has_no_finding(name: str) -> None:
    """A timetable written by hand within all rules is passed."""
    day, rows = GOOD[name]()
    assert [str(finding) for finding in audit_rows(day, rows)] == []
