"""Generated days are sound: the measurements stand on them."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from scheduler.audit import audit_rows
from scheduler.breakdown import break_down
from scheduler.intake import read_day
from scheduler.planning import plan_day
from tests.bench.days import CLOSINGS, named


def test_a_generated_day_is_sound_and_plans(tmp_path: Path) -> None:
    """A generated day reads back from its folder as it was, and its quick plan passes the audit whole."""
    made = named("d60", 1)
    made.write(tmp_path / "day")
    day = read_day(tmp_path / "day")
    assert replace(day, inputs={}) == made.day
    planned = plan_day(day, "quick")
    pressed = {piece for row in planned.rows if row.what == "dwell" for piece in row.pieces}
    assert len(pressed) == sum(line.quantity for line in day.lines) == 60
    assert not audit_rows(day, planned.rows)


def test_generated_days_keep_their_size() -> None:
    """A named day has its pieces, presses and people, about 1.6 closings a piece, and another seed is another day."""
    day, other = named("d250", 0).day, named("d250", 1).day
    routes = break_down(day)
    pieces = sum(line.quantity for line in day.lines)
    closings = sum(line.quantity * len(routes[line.garment, line.design][0].operations) for line in day.lines)
    assert (pieces, len(day.presses), len(day.people)) == (250, 2, 2)
    assert abs(closings / pieces - CLOSINGS) < 0.1
    assert day == named("d250", 0).day
    assert day.lines != other.lines
