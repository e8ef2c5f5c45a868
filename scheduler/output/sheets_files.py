"""The sheets' folder, replaced whole or not at all. The one before is not kept: it can be made again."""

from __future__ import annotations

import re
import secrets
import shutil
from collections.abc import Mapping
from pathlib import Path

from models.problem import BadInput, Problem
from scheduler.output import swap
from scheduler.output.lock import locked, refused

SHEETS = "sheets"
_NEW = ".sheets-new-"
_OURS = re.compile(r"(index|(press|person|order)-[a-z0-9-]+)\.html")


def write_sheets(folder: Path, pages: Mapping[str, str]) -> Path:
    """Replace the day folder's sheets/ by these pages. Returns sheets/.

    Raises Busy where another run is at work in the folder, and BadInput where it cannot be written or where sheets/
    holds anything that pressday did not write; then what is there stays as it was.
    """
    with locked(folder):
        _check_ours(folder / SHEETS)
        try:
            return _put(folder, {name: page.encode("utf-8") for name, page in pages.items()})
        except OSError as error:
            raise refused(folder, error) from error


def _put(folder: Path, files: Mapping[str, bytes]) -> Path:
    for half in folder.glob(f"{_NEW}*"):  # what a killed run left
        shutil.rmtree(half, ignore_errors=True)
    home, new = folder / SHEETS, folder / f"{_NEW}{secrets.token_hex(4)}"
    try:
        swap.build(new, files)
        if home.exists() and not swap.exchange(new, home):
            home.rename(folder / f"{_NEW}{secrets.token_hex(4)}")
        if not home.exists():
            new.rename(home)
        swap.sync_folder(folder)
    finally:
        for old in folder.glob(f"{_NEW}*"):
            shutil.rmtree(old, ignore_errors=True)
    return home


def _check_ours(sheets: Path) -> None:
    """Refuse to replace what a person may have put there."""
    if sheets.is_symlink() or (sheets.exists() and not sheets.is_dir()):
        wrong = "this is a link" if sheets.is_symlink() else "this is a file"
    elif strange := sorted(p.name for p in sheets.glob("*") if not _OURS.fullmatch(p.name) or p.is_dir()):
        wrong = f"it holds what pressday did not write ({', '.join(strange[:3])})"
    else:
        return
    right = "pressday keeps its own folder under this name: move yours away."
    raise BadInput([Problem(str(sheets), "", "", "", wrong, right)])
