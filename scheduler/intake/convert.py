"""The orders of a folder as a workbook with drop-downs of what the folder knows now."""

from __future__ import annotations

import secrets
from pathlib import Path

from scheduler.intake.files import reason, there
from scheduler.intake.findings import Findings
from scheduler.intake.read import read_day
from scheduler.intake.spreadsheet import orders_workbook


def write_spreadsheet(folder: Path) -> tuple[Path, Path]:
    """Write orders.xlsx from the folder's orders; what held them before is kept under another name.

    Returns the workbook and what was kept (orders-before.csv or orders-before.xlsx, with a number where that is
    there). Raises BadInput where the folder is not sound or cannot be written.
    """
    day = read_day(folder)
    old = next(folder / name for name in ("orders.csv", "orders.xlsx") if name in day.inputs)
    kept, half = _free(folder, old.suffix), folder / f".orders-{secrets.token_hex(4)}.xlsx"
    try:
        half.write_bytes(orders_workbook(day.lines, list(day.garments), list(day.design)))
        old.rename(kept)
        half.replace(folder / "orders.xlsx")
    except OSError as error:
        found = Findings()
        wrong = f"the workbook cannot be written ({reason(error)})"
        found.add("orders.xlsx", "", "", "", wrong, "Close it where it is open, and see that you may write here")
        found.raise_any()
    finally:
        half.unlink(missing_ok=True)
    return folder / "orders.xlsx", kept


def _free(folder: Path, suffix: str) -> Path:
    number, path = 1, folder / f"orders-before{suffix}"
    while there(path):
        number += 1
        path = folder / f"orders-before-{number}{suffix}"
    return path
