"""Small day folders with a written plan, to be planned again from the command line's own functions."""

from __future__ import annotations

import shutil
from datetime import datetime
from functools import cache
from pathlib import Path
from tempfile import mkdtemp

from scheduler.intake import write_starter
from scheduler.output.files import read_plan
from scheduler.writing import plan_and_write


@cache
def _first() -> Path:
    folder = Path(mkdtemp()) / "day"
    write_starter(folder, datetime(2026, 12, 1, 7))
    shop = folder / "shop.toml"
    shop.write_text('start = "2026-12-01T08:00"\n' + shop.read_text(encoding="utf-8"), encoding="utf-8")
    plan_and_write(folder, "quick", None, 0, True)
    return folder


def folder_in(place: Path, name: str = "day") -> Path:
    """A copy of a planned starter folder."""
    return Path(shutil.copytree(_first(), place / name))


def middle(folder: Path) -> datetime:
    """A moment half-way through the folder's plan."""
    plan = read_plan(folder / "plan" / "plan.json")
    return (plan.start + (plan.finish - plan.start) / 2).replace(microsecond=0)


def everything(folder: Path) -> dict[str, bytes]:
    """Every file's bytes, but for the lock's."""
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file() and path.name != ".pressday.lock"
    }
