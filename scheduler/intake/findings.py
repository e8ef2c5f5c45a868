"""Collecting problems, and the small words they are made of: values on one line, nearest names."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable
from datetime import date, datetime, time
from typing import Any

from models.problem import BadInput, Problem

FILES = ("shop.toml", "catalog.toml", "designs.toml", "orders.csv", "orders.xlsx", "names.csv", "log.csv")
WIDTH = 60  # characters of a value that a message shows


class Findings:
    """Every problem found so far; nothing is raised before all files have been looked at."""

    def __init__(self) -> None:
        self._problems: dict[Problem, None] = {}

    def add(self, file: str, where: str, field: str, value: str, wrong: str, right: str) -> None:
        """Note one problem; its texts as in models.problem.Problem. The same one twice counts once."""
        wrong, right = wrong.rstrip("."), right if right.endswith(("?", ".")) or not right else f"{right}."
        self._problems[Problem(file, one_line(where, 200), one_line(field, 120), one_line(value), wrong, right)] = None

    def __len__(self) -> int:
        return len(self._problems)

    def raise_any(self) -> None:
        """BadInput with all problems, file by file and row by row; nothing where there are none."""
        if self._problems:
            raise BadInput(sorted(self._problems, key=_rank))


def _rank(problem: Problem) -> tuple[int, int]:
    row = re.match(r"row (\d+)", problem.where)
    return (FILES.index(problem.file) if problem.file in FILES else -1, int(row[1]) if row else 0)


def one_line(text: str, width: int = WIDTH) -> str:
    """The text with what cannot be printed escaped, cut to `width` characters."""
    text = text[: 4 * width]
    safe = "".join(ch if ch.isprintable() else ch.encode("unicode_escape").decode() for ch in text)
    return safe if len(safe) <= width else f"{safe[: width - 1]}…"


def show(value: Any, depth: int = 0) -> str:
    """A value as it would stand in a TOML file, short."""
    if isinstance(value, str):
        return f'"{one_line(value)}"'
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int):
        return str(value) if abs(value) < 10**15 else "a number of more than 15 digits"
    if isinstance(value, float):
        return f"{value:g}"
    if isinstance(value, (datetime, date, time)):
        return value.isoformat()
    if isinstance(value, (list, tuple)):
        return f"[{', '.join(show(v, depth + 1) for v in value[:8])}]" if depth < 3 else "[…]"
    return "" if value is None else "{ a table }"


def nearest(word: str, known: Iterable[str], count: int = 3) -> list[str]:
    """The known names most like the word, the likest first, without regard to case."""
    by_fold = {name.casefold(): name for name in known}
    if len(by_fold) > 500:  # comparing with all of a long list would take seconds
        start, end = word.casefold()[:2], word.casefold()[-2:]
        alike = [fold for fold in by_fold if fold.startswith(start) or fold.endswith(end)]
        by_fold = {fold: by_fold[fold] for fold in alike[:500]}
    return [by_fold[m] for m in difflib.get_close_matches(word.casefold()[:80], by_fold, n=count, cutoff=0.6)]


def suggest(word: str, known: Iterable[str], what: str) -> str:
    """What to write instead of a name nobody knows: the nearest ones, or all there are."""
    names = list(dict.fromkeys(known))
    near = nearest(word, names)
    if near:
        return f"Did you mean {either(near)}?"
    if not names:
        return f"There is no {what} yet; write one down first."
    more = f" and {len(names) - 8} more" if len(names) > 8 else ""
    return f"Known: {', '.join(show(name) for name in names[:8])}{more}."


def either(names: Iterable[str]) -> str:
    """ "a", "b" or "c", in quotes."""
    quoted = [show(name) for name in names]
    return quoted[0] if len(quoted) == 1 else f"{', '.join(quoted[:-1])} or {quoted[-1]}"
