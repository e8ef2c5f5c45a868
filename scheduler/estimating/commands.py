"""`pressday estimate`: read, ask, say; and write where the order is accepted."""

from __future__ import annotations

import json
import sys
from collections.abc import Mapping
from datetime import datetime
from pathlib import Path

from scheduler.estimating.accept import accept
from scheduler.estimating.answer import Asking, estimate_folder
from scheduler.estimating.words import estimate_json, estimate_text
from scheduler.intake.more import lines_of_file, lines_typed
from scheduler.output.terminal import say_text
from scheduler.solving.efforts import EffortName


def typed(folder: Path, cells: Mapping[str, str]) -> Asking:
    """One line given as options, by orders.csv's columns."""
    return lambda day: lines_typed(folder, day, cells)


def of_file(folder: Path, path: Path) -> Asking:
    """The lines of a file with orders.csv's columns."""
    return lambda day: lines_of_file(folder, day, path)


def estimate_and_say(folder: Path, asking: Asking, as_json: bool, at: datetime | None = None) -> None:
    """Estimate and print the answer; nothing is written. Raises BadInput or NoPlan."""
    found = estimate_folder(folder, asking, at=at)
    if as_json:
        _print_json(estimate_json(found.answer))
    else:
        say_text(estimate_text(found.today.day, found.answer))


def accept_and_say(folder: Path, asking: Asking, effort: EffortName, as_json: bool, at: datetime | None = None) -> None:
    """Accept the order and print the estimate and where it now stands. Raises BadInput, NoPlan, Faulted, Busy."""
    found, planned = accept(folder, asking, effort, 0, as_json, at=at)
    mine = {line.order for line in found.asked.more}
    done = max(one.finish for one in planned.plan.orders if one.order in mine)
    if as_json:
        _print_json({**estimate_json(found.answer), "accepted": True, "planned_finish": done.isoformat()})
        return
    say_text(estimate_text(found.today.day, found.answer))
    say_text(f"Accepted: orders.csv has it, and plan/ is planned anew; it is done {done:%Y-%m-%d %H:%M:%S}.\n")


def _print_json(answer: object) -> None:
    sys.stdout.write(json.dumps(answer, ensure_ascii=False, indent=1) + "\n")
