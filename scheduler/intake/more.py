"""Order lines that stand in no day folder yet: asked for on the command line or in a file of their own."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from models.day import Day
from models.order import OrderLine
from scheduler.intake.files import read_bytes
from scheduler.intake.findings import Findings, show
from scheduler.intake.orders import ORDER_COLUMNS, read_lines
from scheduler.intake.references import Raw, check_references
from scheduler.intake.repeats import lines_once
from scheduler.intake.sense import check_sense
from scheduler.intake.tables import Row, read_csv
from scheduler.intake.toml import read_toml
from scheduler.intake.workbook import read_xlsx

COMMAND = "the command line"


@dataclass(frozen=True)
class _Asked(Row):
    """A row that was typed as options: it has no place in a table."""

    @property
    def where(self) -> str:
        return ""


def lines_typed(folder: Path, day: Day, cells: Mapping[str, str]) -> tuple[OrderLine, ...]:
    """One order line out of cells by orders.csv's columns. Raises BadInput with every problem."""
    return _sound(folder, day, [_Asked(1, dict(cells))], COMMAND, Findings())


def lines_of_file(folder: Path, day: Day, path: Path) -> tuple[OrderLine, ...]:
    """The lines of a .csv or .xlsx in orders.csv's columns. Raises BadInput with every problem."""
    found = Findings()
    data = read_bytes(path, found)
    reader = read_xlsx if path.suffix.casefold() == ".xlsx" else read_csv
    rows = None if data is None else reader(data, path.name, ORDER_COLUMNS, found)
    found.raise_any()
    assert rows is not None
    return _sound(folder, day, rows, path.name, found)


def _sound(folder: Path, day: Day, rows: list[Row], file: str, found: Findings) -> tuple[OrderLine, ...]:
    """The lines, held against the folder as those of orders.csv are; names of pieces may come later."""
    shop, catalog, designs = (read_toml(folder / f"{name}.toml", found, {}) for name in ("shop", "catalog", "designs"))
    raw = Raw(shop, catalog, designs, file)
    raw.lines = read_lines(rows, file, found)
    lines_once(raw.lines, file, found)
    check_references(raw, found)
    check_sense(raw, found)
    for line in raw.lines:
        if line.order in day.orders:
            wrong = "the folder has an order of this name already"
            found.add(file, line.row.where, "order", show(line.order), wrong, "Ask for it under another name")
    found.raise_any()
    return tuple(line.value for line in raw.lines if line.value)
