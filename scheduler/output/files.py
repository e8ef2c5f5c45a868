"""The files of a plan's folder: timetable.csv, finish.csv, plan.json, timeline.html (contract, section 7)."""

from __future__ import annotations

import os
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import fields
from pathlib import Path

from models.plan import Finish, Plan, Row
from models.problem import BadInput, Problem
from scheduler.output import swap
from scheduler.output.cells import csv_text
from scheduler.output.lock import Busy, locked, refused
from scheduler.output.reading import read_plan, read_timetable

__all__ = ["Busy", "locked", "plan_json", "read_plan", "read_timetable", "recover", "restore_plan", "write_plan"]

TIMETABLE_COLUMNS = tuple(field.name for field in fields(Row))
FINISH_COLUMNS = tuple(Finish.model_fields)


def write_plan(
    folder: Path, plan: Plan, rows: Sequence[Row], page: str, beside: Mapping[str, bytes] = swap.NOTHING
) -> Path:
    """Replace the day folder's plan/ by this one, whole or not at all, and keep the one before it.

    `page` is timeline.html, `beside` what other files of the folder hold from then on. Returns plan/.
    Raises Busy where another run is at work in the folder, and BadInput where it cannot be written; then the plan
    there is as it was.
    """
    files = {
        "timetable.csv": timetable_csv(rows),
        "finish.csv": finish_csv(plan.orders),
        "plan.json": plan_json(plan),
        "timeline.html": page,
    }
    with _said(folder), locked(folder):
        _no_link(folder)
        for name in beside:
            _no_linked_file(folder / name)
        return swap.put(folder, {name: text.encode("utf-8") for name, text in files.items()}, beside)


def restore_plan(folder: Path, number: int | None = None) -> int:
    """Put a plan from before back as plan/, the last one or the one of this number, and keep the one that was there.

    Returns its number. Raises Busy, and BadInput where there is no such plan or it cannot be written.
    """
    with _said(folder), locked(folder):
        _no_link(folder)
        swap.tidy(folder)
        kept = {int(path.name): path for path in swap.before(folder)}
        chosen = max(kept, default=0) if number is None else number
        if chosen not in kept:
            wrong = f"there is no plan {chosen} from before" if kept else "no plan is kept from before"
            right = f"There are: {', '.join(map(str, kept))}" if kept else "One is kept when another takes its place"
            raise BadInput([Problem(os.fspath(folder / swap.BEFORE), "", "", "", wrong, right)])
        files = {path.name: path.read_bytes() for path in sorted(kept[chosen].iterdir()) if path.is_file()}
        swap.put(folder, files)
        return chosen


def recover(folder: Path) -> None:
    """Finish or clear away what a killed run left in the folder; nothing where there is nothing.

    Raises Busy where another run is at work there, BadInput where the folder cannot be written.
    """
    with _said(folder):
        if swap.leftovers(folder):
            with locked(folder):
                _no_link(folder)
                swap.tidy(folder)


def timetable_csv(rows: Iterable[Row]) -> str:
    """timetable.csv; pieces and layers joined by ';', what does not apply left blank."""
    return csv_text(TIMETABLE_COLUMNS, ([getattr(row, name) for name in TIMETABLE_COLUMNS] for row in rows))


def finish_csv(orders: Iterable[Finish]) -> str:
    """finish.csv, minutes with at most two decimals."""
    return csv_text(FINISH_COLUMNS, ([getattr(order, name) for name in FINISH_COLUMNS] for order in orders))


def plan_json(plan: Plan) -> str:
    """plan.json, indented, times in ISO 8601 without a zone."""
    return plan.model_dump_json(indent=2) + "\n"


@contextmanager
def _said(folder: Path) -> Iterator[None]:
    """The system's refusals as a Problem."""
    try:
        yield
    except OSError as error:
        raise refused(folder, error) from error


def _no_linked_file(path: Path) -> None:
    if path.is_symlink():
        wrong = "this is a link, and writing would replace it"
        raise BadInput([Problem(path.name, "", "", "", wrong, "Put the file itself in its place")])


def _no_link(folder: Path) -> None:
    """Whole folders can be exchanged; a link or a file in their place would lose what it stands for."""
    for name in (swap.PLAN, swap.BEFORE):
        path = folder / name
        if path.is_symlink() or (path.exists() and not path.is_dir()):
            wrong = "this is a link" if path.is_symlink() else "this is a file"
            right = "pressday keeps its own folder under this name: move yours away."
            raise BadInput([Problem(os.fspath(path), "", "", "", wrong, right)])
