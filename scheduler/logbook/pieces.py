"""Pieces as people write them: names joined by ';', or numbers and ranges within one line of an order."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence

from models.order import OrderLine
from scheduler.intake.findings import suggest

Fault = tuple[str, str, str]  # what was found, what is wrong, what would be right

_NUMBERS = re.compile(r"0*(\d{1,6})(?:\s*(?:-|–|\.\.|to)\s*0*(\d{1,6}))?", re.ASCII | re.IGNORECASE)
_DATE = re.compile(r"\d{1,2}[-. ][^\W\d]{3,9}\.?|[^\W\d]{3,9}[-. ]\d{1,2}")  # what a spreadsheet makes of 1-12
_NAMES = "Write names as the timetable has them, joined by ;"


def read_pieces(
    text: str, lines: Sequence[OrderLine], names: Mapping[str, OrderLine]
) -> tuple[tuple[str, ...], list[Fault]]:
    """The pieces' names, each once, in the order written, and what is wrong with the others.

    `lines` are the order lines that the row's order and line allow: numbers and ranges ("1-12;15") need exactly
    one. `names` has every piece of the day.
    """
    found: dict[str, None] = {}
    faults: list[Fault] = []
    for part in (part.strip() for part in text.split(";")):
        if not part:
            continue
        if part in names:
            if names[part] in lines:
                found[part] = None
            else:
                at = names[part]
                faults.append((part, f"it belongs to order {at.order} line {at.line}", "Write its own order and line"))
        elif match := _NUMBERS.fullmatch(part):
            fault = _numbered(part, int(match[1]), int(match[2] or match[1]), lines, found)
            faults += [fault] if fault else []
        else:
            faults.append(_strange(part, names))
    return tuple(found), faults


def _numbered(part: str, first: int, last: int, lines: Sequence[OrderLine], found: dict[str, None]) -> Fault | None:
    if len(lines) != 1:
        wrong = f"a number stands for a piece of one line, and here are {len(lines)}"
        return part, wrong, f"Fill in order and line. {_NAMES}"
    line = lines[0]
    if first > last:
        return part, "the range runs backwards", f"Write {last}-{first}"
    if not 1 <= first <= last <= line.quantity:
        wrong = f"order {line.order} line {line.line} has pieces 1 to {line.quantity}"
        return part, wrong, "Write numbers within that"
    found.update(dict.fromkeys(line.piece(n) for n in range(first, last + 1)))
    return None


def _strange(part: str, names: Iterable[str]) -> Fault:
    if _DATE.fullmatch(part):
        return part, "a spreadsheet seems to have made a date of a range", "Write it with dots, as 1..12"
    return part, "there is no such piece", suggest(part, names, "piece")
