"""A first day folder to write one's own shop into: every field explained, sound as it stands."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from datetime import datetime, timedelta
from importlib import resources
from pathlib import Path

from models.shop import WEEKDAYS, Hours
from scheduler.calendar import next_opening
from scheduler.intake.columns import columns_text
from scheduler.intake.files import reason, there
from scheduler.intake.findings import FILES, Findings, one_line
from scheduler.intake.orders import ORDER_COLUMNS, read_lines
from scheduler.intake.spreadsheet import orders_workbook
from scheduler.intake.tables import read_csv

STARTER = ("shop.toml", "catalog.toml", "designs.toml", "orders.csv", "names.csv")
COLUMNS = "columns.txt"


def write_starter(folder: Path, now: datetime | None = None, spreadsheet: bool = False) -> list[Path]:
    """Write a commented day folder and return its files; due times follow the next opening from `now`.

    `spreadsheet`: the orders in orders.xlsx, with drop-downs, in place of orders.csv: a folder has one of them.
    Raises BadInput where the folder holds day files already or cannot be written; nothing is overwritten.
    """
    found = Findings()
    files = _starter_files(now or datetime.now(), spreadsheet)
    try:
        for name in (*FILES, COLUMNS):
            if there(folder / name):
                wrong = "the folder holds a day file already, nothing was written"
                found.add(name, "", "", "", wrong, "Name another folder, or move the files away")
        found.raise_any()
        folder.mkdir(parents=True, exist_ok=True)
        for name, data in files.items():
            with (folder / name).open("xb") as stream:
                stream.write(data)
    except (OSError, ValueError) as error:
        wrong = f"the folder cannot be written ({reason(error)})"
        found.add(one_line(str(folder)), "", "", "", wrong, "Name a folder in a place where you may write")
        found.raise_any()
    return [folder / name for name in files]


def _starter_files(now: datetime, spreadsheet: bool) -> dict[str, bytes]:
    texts = starter_texts(now)
    files: dict[str, bytes] = {}
    for name, text in texts.items():
        as_workbook = spreadsheet and name == "orders.csv"
        files["orders.xlsx" if as_workbook else name] = _workbook(texts) if as_workbook else text.encode("utf-8")
    files[COLUMNS] = columns_text("orders.xlsx" if spreadsheet else "orders.csv").encode("utf-8")
    return files


def _workbook(texts: Mapping[str, str]) -> bytes:
    """The starter's orders as a workbook."""
    found = Findings()
    rows = read_csv(texts["orders.csv"].encode("utf-8"), "orders.csv", ORDER_COLUMNS, found)
    lines = [line.value for line in read_lines(rows or [], "orders.csv", found) if line.value]
    found.raise_any()
    garments = [str(one["id"]) for one in tomllib.loads(texts["catalog.toml"])["garment"]]
    designs = [str(one["id"]) for one in tomllib.loads(texts["designs.toml"])["design"]]
    return orders_workbook(lines, garments, designs)


def starter_texts(now: datetime) -> dict[str, str]:
    """The starter's files, name to text, with its due times on the opening days from `now` on."""
    here = resources.files("scheduler.intake") / "starter"
    texts = {name: (here / name).read_text(encoding="utf-8") for name in STARTER}
    hours = Hours.model_validate(tomllib.loads(texts["shop.toml"])["hours"])
    days = _opening_days(hours, now)
    texts["orders.csv"] = re.sub(r"@(\d) (\d\d:\d\d)", lambda due: f"{days[int(due[1])]}T{due[2]}", texts["orders.csv"])
    return texts


def _opening_days(hours: Hours, now: datetime) -> list[str]:
    """The day of the next opening and the opening days after it, as YYYY-MM-DD."""
    first = next_opening(hours, now).date()
    dates = (first + timedelta(days=n) for n in range(14))
    return [d.isoformat() for d in dates if WEEKDAYS[d.weekday()] in (hours.days or WEEKDAYS)]
