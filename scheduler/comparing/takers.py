"""Which presses can take each operation of a day."""

from __future__ import annotations

from collections.abc import Mapping

from models.day import Day
from models.operation import Operation
from models.plan import Row
from scheduler.breakdown import Fit, break_down, fits

Place = tuple[str | None, str | None, str | None, int | None]  # order, line, placement, operation


def takers(day: Day) -> Mapping[Place, Mapping[str, Fit]]:
    """By order, line, placement and operation: the presses that take it, and how. Raises BadInput."""
    made: dict[tuple[str, str], list[tuple[Operation, dict[str, Fit]]]] = {
        pair: [(op, dict(fits(day, ways[0], op))) for op in ways[0].operations]
        for pair, ways in break_down(day).items()
    }
    return {
        (line.order, line.line, op.placement, op.number): found
        for line in day.lines
        for op, found in made[line.garment, line.design]
    }


def place_of(row: Row) -> Place:
    """Where a row's operation belongs."""
    return (row.order, row.line, row.placement, row.operation)
