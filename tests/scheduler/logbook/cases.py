"""A small day whose plan is written out by hand, and lines of its log in minutes after eight."""

from __future__ import annotations

from typing import Any

from models.log import Entry
from models.plan import Row
from tests.scheduler.breakdown.days import PRESS, film, pile
from tests.scheduler.days import day
from tests.scheduler.output.planned import at, loading, row

DAY = day(
    [film("f1"), film("f2", temperature=[340, 350])],
    {"two": {"front": [pile("f1"), pile("f2")]}},
    [("two", 3, {"order": "G1"}), ("two", 2, {"order": "G2"})],
    presses=[{**PRESS, "at_start": 100, "settle_s": 60}, {**PRESS, "id": "wall"}],
    people=[{"id": "ada"}, {"id": "ben"}],
)
_SECOND: dict[str, Any] = {"operation": 2, "temperature": 340}

# First operations of G1 from minute 10 on, the third peeled off the press; second operations from minute 20 on.
ROWS: list[Row] = [
    row(0, 9, "change"),
    *loading(1, 10),
    *loading(2, 11),
    *loading(3, 12),
    row(13.5, 14, "peel", 3, press=None, person="ben", layers=(1,)),
    row(14, 16.6, "change", temperature=340),
    *loading(4, 20, pieces=("G1-1-001",), **_SECOND),
    *loading(5, 21, pieces=("G1-1-002",), **_SECOND),
    *loading(6, 22, pieces=("G1-1-003",), **_SECOND),
    *loading(7, 23, pieces=("G2-1-001", "G2-1-002"), order="G2"),
    *loading(8, 24, pieces=("G2-1-001", "G2-1-002"), order="G2", **_SECOND),
]


def line(minutes: float, what: str, until: float | None = None, **cells: Any) -> Entry:
    """A line of the log; pieces by their numbers in G1."""
    if "pieces" in cells:
        cells["pieces"] = tuple(n if isinstance(n, str) else f"G1-1-{n:03d}" for n in cells["pieces"])
    times = {"at": at(minutes), "until": None if until is None else at(until)}
    return Entry.model_validate({"what": what, **times, **cells})
