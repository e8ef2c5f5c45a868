"""A plan on the terminal: in colour where someone looks, as plain text where it is piped, as JSON where asked."""

from __future__ import annotations

import json as jsonlib
import os
import shutil
import sys
from collections.abc import Sequence
from typing import TextIO

from models.day import Day
from models.plan import Plan, Row
from scheduler.output.files import plan_json
from scheduler.output.progress import Progress
from scheduler.output.report import Line, Style, report

__all__ = ["Progress", "plan_json", "plan_text", "print_plan"]

_WIDEST = 110
_STYLES: dict[Style, str] = {
    "": "",
    "title": "bold",
    "head": "bold underline",
    "late": "bold white on red",
    "change": "bold reverse",
    "warning": "yellow",
    "caution": "",
}


def plan_text(day: Day, plan: Plan, rows: Sequence[Row], width: int = 80) -> str:
    """The plan in words, plain, in lines of at most `width` columns (80 at least)."""
    return "".join(f"{line.text}\n" for line in report(day, plan, rows, width))


def print_plan(day: Day, plan: Plan, rows: Sequence[Row], json: bool = False) -> None:
    """Print the plan to standard output; `json`: plan.json instead of words."""
    out = sys.stdout
    if json:
        text = plan_json(plan)
        out.write(text if _takes(out, text) else jsonlib.dumps(jsonlib.loads(text), indent=2) + "\n")
    elif out.isatty() and os.environ.get("TERM") != "dumb":
        _print_styled(report(day, plan, rows, _width()), out)
    else:
        text = plan_text(day, plan, rows)
        out.write(text if _takes(out, text) else _replaced(text, out))
    out.flush()


def say_text(text: str) -> None:
    """Text to standard output, with what its encoding lacks replaced."""
    sys.stdout.write(text if _takes(sys.stdout, text) else _replaced(text, sys.stdout))
    sys.stdout.flush()


def _print_styled(lines: Sequence[Line], out: TextIO) -> None:
    from rich.console import Console
    from rich.text import Text

    # rich itself leaves colours out where NO_COLOR is set
    console = Console(file=out, highlight=False, markup=False, emoji=False, soft_wrap=True)
    for line in lines:
        text = line.text if _takes(out, line.text) else _replaced(line.text, out)
        console.print(Text(text, style=_STYLES[line.style]))


def _width() -> int:
    return min(_WIDEST, shutil.get_terminal_size((80, 24)).columns)


def _takes(out: TextIO, text: str) -> bool:
    """Whether the stream's encoding has every character."""
    return _replaced(text, out) == text


def _replaced(text: str, out: TextIO) -> str:
    encoding = getattr(out, "encoding", None) or "utf-8"
    return text.encode(encoding, "replace").decode(encoding)
