"""Figures put into shop.toml with everything else left as it stands, comments and layout too."""

from __future__ import annotations

import difflib
import os
import re
import secrets
import tomllib
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

import tomlkit
from pydantic import ValidationError

from models.problem import BadInput, Problem
from models.shop import Shop
from scheduler.output.swap import sync_folder

FILE = "shop.toml"
Place = tuple[str | int, ...]
Changes = Mapping[Place, float]


def changed(text: str, changes: Changes) -> str:
    """The text of shop.toml with these figures in it.

    What is written is replaced in its place; what was left out gets a line of its own in its table, or a table of its
    own at the end. Raises BadInput where the file would then say anything else besides.
    """
    document: Any = tomlkit.parse(text)
    missing: dict[Place, float] = {}
    for place, value in changes.items():
        table = _table(document, place[:-1])
        if table is not None and place[-1] in table:
            table[place[-1]] = _plain(value)
        else:
            missing[place] = value
    new = tomlkit.dumps(document)
    for place, value in missing.items():
        new = _added(new, place, value)
    _check(text, new, changes)
    return new


def diff(old: str, new: str) -> str:
    """What changes, line by line (a unified diff)."""
    lines = difflib.unified_diff(old.splitlines(), new.splitlines(), FILE, f"{FILE} (proposed)", n=1, lineterm="")
    return "".join(f"{line}\n" for line in lines)


def read(folder: Path) -> str:
    """The text of shop.toml, its line ends as they are. Raises BadInput."""
    try:
        return (folder / FILE).read_bytes().decode("utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise BadInput([Problem(FILE, "", "", "", f"it cannot be read ({error})", "Check the file")]) from error


def write(folder: Path, text: str) -> None:
    """Replace shop.toml whole or not at all; call it under the folder's lock. Raises BadInput."""
    path = folder / FILE
    if path.is_symlink():
        wrong = "this is a link, and writing would replace it"
        raise BadInput([Problem(FILE, "", "", "", wrong, "Put the file itself in its place")])
    new = path.with_name(f".shop-new-{secrets.token_hex(4)}")
    try:
        with new.open("xb") as stream:
            new.chmod(path.stat().st_mode & 0o777)
            stream.write(text.encode("utf-8"))
            stream.flush()
            os.fsync(stream.fileno())
        new.replace(path)
        sync_folder(folder)
    except OSError as error:
        wrong = f"it cannot be written ({error.strerror or error}); it is as it was"
        raise BadInput([Problem(FILE, "", "", "", wrong, "Check the folder and your rights in it")]) from error
    finally:
        new.unlink(missing_ok=True)


def _table(document: Any, place: Place) -> Any:
    for key in place:
        if isinstance(key, str) and key not in document:
            return None
        document = document[key]
    return document


def _plain(value: float) -> float | int:
    return int(value) if float(value).is_integer() else value


def _added(text: str, place: Place, value: float) -> str:
    """A line for a figure that was left out: below its table's head, or in a new table at the end."""
    *tables, key = place
    line = f"{key} = {_plain(value)}"
    end = "\r\n" if "\r\n" in text else "\n"
    lines = text.splitlines(keepends=True)
    at = _head(lines, tables)
    if at is None:
        gap = "" if not text or text.endswith("\n") else end
        return f"{text}{gap}{end}[{tables[0]}]{end}{line}{end}"
    if not lines[at].endswith("\n"):
        lines[at] += end
    return "".join([*lines[: at + 1], line + end, *lines[at + 1 :]])


def _head(lines: Sequence[str], tables: Sequence[str | int]) -> int | None:
    """The line after which a figure of the table can stand: its head, or its id where it is one of several."""
    several = len(tables) > 1
    pattern = rf"\s*\[\[\s*{tables[0]}\s*\]\]" if several else rf"\s*\[\s*{tables[0]}\s*\]"
    heads = [n for n, line in enumerate(lines) if re.match(pattern, line)]
    number = tables[1] if several else 0
    if not isinstance(number, int) or number >= len(heads):
        return None
    at = heads[number]
    for n in range(at + 1, len(lines)):
        if lines[n].lstrip().startswith("["):
            break
        if re.match(r"\s*id\s*=", lines[n]):
            return n
    return at


def _check(old: str, new: str, changes: Changes) -> None:
    """The file says what it said, and the new figures; nothing else."""
    try:
        wanted, found = tomllib.loads(old), tomllib.loads(new)
        for place, value in changes.items():
            table: Any = wanted
            for key in place[:-1]:
                table = table.setdefault(key, {}) if isinstance(table, dict) else table[key]
            table[place[-1]] = value
        Shop.model_validate(found)
    except ValidationError as error:
        raise BadInput([Problem(FILE, "", "", "", f"the figures do not fit ({error})", _BY_HAND)]) from error
    except ValueError as error:
        raise BadInput([Problem(FILE, "", "", "", f"the figures cannot be put in ({error})", _BY_HAND)]) from error
    if wanted != found:
        raise BadInput(
            [Problem(FILE, "", "", "", "it is written so that the figures cannot be put in safely", _BY_HAND)]
        )


_BY_HAND = "Write them by hand"
