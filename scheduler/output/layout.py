"""Lines of text that keep to a width in terminal columns, whatever stands in them."""

from __future__ import annotations

import unicodedata
from collections.abc import Container, Iterator, Sequence
from datetime import datetime, timedelta
from itertools import zip_longest

from scheduler.intake.findings import one_line

WIDTH = 80  # columns of what is piped, and of the narrowest terminal
_LEAST = 12  # columns that a table's column keeps when it gives way


def columns(text: str) -> int:
    """How many terminal columns a text takes: wide and fullwidth characters two (Unicode, annex 11), marks none."""
    return len(text) if text.isascii() else sum(_columns(ch) for ch in text)


def _columns(ch: str) -> int:
    if ch.isascii():
        return 1
    if unicodedata.category(ch) in ("Mn", "Me", "Cf"):
        return 0
    return 2 if unicodedata.east_asian_width(ch) in "WF" else 1


def clip(text: str, width: int) -> str:
    """The text without anything a terminal would act on, cut to `width` columns with an ellipsis."""
    safe = one_line(text, 400)
    if columns(safe) <= width:
        return safe
    kept, used = "", 1
    for ch in safe:
        used += _columns(ch)
        if used > width:
            break
        kept += ch
    return f"{kept}…"


def pad(text: str, width: int, right: bool = False) -> str:
    """The text cut or filled with blanks to exactly `width` columns."""
    cut = clip(text, width)
    blanks = " " * (width - columns(cut))
    return blanks + cut if right else cut + blanks


def wrapped(text: str, width: int, indent: int = 0, first: str = "") -> list[str]:
    """The text in lines of at most `width` columns, later ones indented; `first` stands before the first.

    A word too long for a line is broken.
    """
    lines, line = [], first
    for word in one_line(text, 100_000).split():
        gap = "" if not line.strip() or line.endswith(" ") else " "
        if line.strip() and columns(line + gap + word) > width and columns(line) > indent:
            lines.append(line.rstrip())
            line, gap = " " * indent, ""
        line += gap + word
        while columns(line) > width:
            head = _head(line, width)
            lines.append(head)
            line = " " * indent + line[len(head) :]
    return [*lines, line.rstrip()] if line.strip() else lines


def tabled(rows: Sequence[Sequence[str]], width: int, right: Container[int] = (), indent: int = 0) -> Iterator[str]:
    """The rows as columns two blanks apart, those numbered in `right` set to the right.

    Where they are wider than `width` the first column gives way, then the last: their cells are wrapped, none is cut.
    """
    widths = [max(map(columns, cells)) for cells in zip(*rows, strict=True)]
    for number in (0, len(widths) - 1):
        over = indent + sum(widths) + 2 * (len(widths) - 1) - width
        widths[number] = max(min(widths[number], _LEAST), widths[number] - max(0, over))
    for row in rows:
        cells = [wrapped(cell, wide) or [""] for cell, wide in zip(row, widths, strict=True)]
        for line in zip_longest(*cells, fillvalue=""):
            said = "  ".join(pad(text, w, n in right) for n, (text, w) in enumerate(zip(line, widths, strict=True)))
            yield f"{' ' * indent}{said}".rstrip()


def fitted(text: str, width: int = WIDTH) -> str:
    """The text with lines wider than `width` wrapped, save those with a word too long for one, as a path may be."""
    lines: list[str] = []
    for line in text.splitlines():
        whole = columns(line) <= width or any(columns(word) > width - 6 for word in line.split())
        blanks = len(line) - len(line.lstrip())
        lines += [line] if whole else wrapped(line, width, blanks + 2, line[:blanks])
    return "\n".join(lines)


def _head(line: str, width: int) -> str:
    used = 0
    for number, ch in enumerate(line):
        used += _columns(ch)
        if used > width:
            return line[:number]
    return line


def lasting(seconds: float) -> str:
    """A length of time as people say it: 45 s, 6 min, 8 min 40 s, 2 h 5 min."""
    whole = round(seconds) if seconds < 3600 else 60 * round(seconds / 60)
    hours, minutes, rest = whole // 3600, whole // 60 % 60, whole % 60
    if hours:
        return f"{hours} h" + (f" {minutes} min" if minutes else "")
    if minutes:
        return f"{minutes} min" + (f" {rest} s" if rest else "")
    return f"{rest} s"


def on_the_minute(at: datetime, up: bool = False) -> datetime:
    """The whole minute before a moment, or the one after it."""
    down = at.replace(second=0, microsecond=0)
    return down + timedelta(minutes=1) if up and down < at else down


def date_words(at: datetime) -> str:
    """Tue 8 Dec 2026."""
    return f"{at:%a} {at.day} {at:%b} {at.year}"


def number(value: float) -> str:
    """A figure with at most one decimal."""
    return f"{value:.1f}".removesuffix(".0")


def counted(count: int, one: str, many: str = "") -> str:
    """ "1 piece", "2 pieces"."""
    return f"{count} {one if count == 1 else many or one + 's'}"
