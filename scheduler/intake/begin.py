"""A first day folder to write one's own shop into: every field explained, sound as it stands."""

from __future__ import annotations

import re
import tomllib
from datetime import datetime, timedelta
from importlib import resources
from pathlib import Path

from models.shop import WEEKDAYS, Hours
from scheduler.calendar import next_opening
from scheduler.intake.files import reason, there
from scheduler.intake.findings import FILES, Findings, one_line

STARTER = ("shop.toml", "catalog.toml", "designs.toml", "orders.csv", "names.csv")


def write_starter(folder: Path, now: datetime | None = None) -> list[Path]:
    """Write a commented day folder and return its files; due times follow the next opening from `now`.

    Raises BadInput where the folder holds day files already or cannot be written; nothing is overwritten.
    """
    found = Findings()
    texts = starter_texts(now or datetime.now())
    try:
        for name in FILES:
            if there(folder / name):
                wrong = "the folder holds a day file already, nothing was written"
                found.add(name, "", "", "", wrong, "Name another folder, or move the files away")
        found.raise_any()
        folder.mkdir(parents=True, exist_ok=True)
        for name, text in texts.items():
            with (folder / name).open("x", encoding="utf-8", newline="\n") as stream:
                stream.write(text)
    except (OSError, ValueError) as error:
        wrong = f"the folder cannot be written ({reason(error)})"
        found.add(one_line(str(folder)), "", "", "", wrong, "Name a folder in a place where you may write")
        found.raise_any()
    return [folder / name for name in texts]


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
