"""A TOML file as plain tables, with the place of what cannot be read."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path
from typing import Any

from scheduler.intake.files import read_bytes, sha256, utf8
from scheduler.intake.findings import Findings

Table = dict[str, Any]

_HINTS = (
    ("overwrite", "The same key stands twice in one table: keep one."),
    ("twice", "A [table] may stand once; for several of a kind write [[name]] with two pairs of brackets."),
    ("Cannot mutate", "A [table] and a [[table]] of one name do not go together: use [[name]] throughout."),
    ("Invalid statement", "Write key = value, a [table] or a comment that starts with #."),
    ("Expected '='", "Write key = value, one to a line."),
    ("Invalid value", 'Text stands in quotes ("medium"), numbers have a decimal point, lists stand in [ ].'),
    ("Unclosed array", "Close the list with ]."),
    ("Unterminated", "Close the text with a quote."),
    ("Illegal character", "Take the character out, or close the quotes on the line."),
    ("date", 'Write a date and time in quotes, as "2026-12-01T08:00".'),
)


def read_toml(path: Path, found: Findings, inputs: dict[str, str]) -> Table | None:
    """The file's tables, or None with the problem noted; its sha256 goes into `inputs`."""
    data = read_bytes(path, found)
    if data is None:
        return None
    inputs[path.name] = sha256(data)
    text = utf8(data, path.name, found)
    return None if text is None else parse(text, path.name, found)


def parse(text: str, name: str, found: Findings) -> Table | None:
    """TOML text as tables; a decode error is noted with its line and column."""
    try:
        return tomllib.loads(text)
    except RecursionError:
        found.add(name, "", "", "", "lists or tables lie too deep inside each other", "Write them flat.")
    except ValueError as error:
        _decode_problem(str(error), text, name, found)
    return None


def _decode_problem(message: str, text: str, name: str, found: Findings) -> None:
    place = re.search(r" \(at (?:line (\d+), column (\d+)|end of document)\)$", message)
    why = message[: place.start()] if place else message
    where, value = "end of file" if place else "", ""
    if place and place[1]:
        where = f"line {place[1]}, column {place[2]}"
        value = (text.split("\n")[int(place[1]) - 1 :] or [""])[0].strip()
    right = next((hint for key, hint in _HINTS if key.casefold() in why.casefold()), "Write it as TOML 1.0.")
    found.add(name, where, "", value, f"this cannot be read as TOML: {why[:160]}", right)


def plain(value: Any) -> Any:
    """Lists as tuples, whole floats as whole numbers, numbers beyond 15 digits cut to 16.

    So that models can be asked strictly: no text or true for a number, yet 60.0 for 60.
    """
    if isinstance(value, dict):
        return {key: plain(item) for key, item in value.items()}
    if isinstance(value, list):
        return tuple(plain(item) for item in value)
    if isinstance(value, float) and value.is_integer() and abs(value) < 1e15:
        return int(value)
    if isinstance(value, int) and not isinstance(value, bool):
        return max(-(10**15), min(10**15, value))
    return value


def tables(node: Any, key: str) -> list[Table]:
    """The [[key]] tables inside `node` that are tables at all, right or wrong otherwise; gaps stay as {}."""
    items = node.get(key) if isinstance(node, dict) else None
    return [item if isinstance(item, dict) else {} for item in items] if isinstance(items, list) else []


def text_of(node: Any, key: str) -> str | None:
    """The text written under a key, stripped as models do; None where it is no text or empty."""
    value = node.get(key) if isinstance(node, dict) else None
    return value.strip() or None if isinstance(value, str) else None


def texts_of(node: Any, key: str) -> list[str]:
    """The texts of a list under a key (one text alone counts as a list of one)."""
    value = node.get(key) if isinstance(node, dict) else None
    items = [value] if isinstance(value, str) else value if isinstance(value, list) else []
    return [item.strip() for item in items if isinstance(item, str)]


def ids(node: Any, key: str, field: str = "id") -> list[str]:
    """Every id written in the [[key]] tables, in file order."""
    return [name for item in tables(node, key) if (name := text_of(item, field)) is not None]
