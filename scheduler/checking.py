"""`pressday check`: a folder read back in words."""

from __future__ import annotations

from pathlib import Path

from scheduler.breakdown import break_down, check_fits
from scheduler.intake import read_day
from scheduler.intake.describe import describe
from scheduler.output.files import recover
from scheduler.output.layout import counted


def check_folder(folder: Path) -> list[str]:
    """What the folder says, with its operations. Raises BadInput or NoPlan where it cannot be planned."""
    if folder.is_dir():
        recover(folder)
    day = read_day(folder)
    routes = check_fits(day, break_down(day))
    operations = sum(line.quantity * len(routes[line.garment, line.design][0].operations) for line in day.lines)
    warnings = list(dict.fromkeys(warning for ways in routes.values() for warning in ways[0].warnings))
    return [*describe(day), counted(operations, "press operation"), *warnings]
