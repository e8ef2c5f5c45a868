"""log.csv: what happened on the day, a line an event (contract, section 6)."""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime
from typing import Literal, get_args

from pydantic import Field, field_validator

from models.base import Name, Strict
from models.shop import Moment

LogWhat = Literal["down", "up", "done", "spoiled", "absent", "back", "rush", "cancel", "ready"]
LOG_WORDS: tuple[LogWhat, ...] = get_args(LogWhat)

MAX_PRIORITY = 1000.0  # as a line of an order has it
_PRIORITY = re.compile(r"\bpriority\s*[:=]?\s*(\d{1,6}(?:\.\d{0,6})?)(?![\d.,])", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class Use:
    """The columns that an event needs and those it may have besides; `at` and `note` go with every event."""

    needs: tuple[str, ...]
    may: tuple[str, ...] = ()


USES: dict[LogWhat, Use] = {
    "down": Use(("press",), ("until",)),
    "up": Use(("press",)),
    "done": Use((), ("press", "person", "order", "line", "pieces")),
    "spoiled": Use(("pieces",), ("press", "person", "order", "line", "until")),
    "absent": Use(("person",), ("until",)),
    "back": Use(("person",)),
    "rush": Use(("order",), ("line", "until")),
    "cancel": Use(("order",), ("line",)),
    "ready": Use(("order",), ("line", "pieces", "until")),
}


class Entry(Strict):
    """One line of log.csv. `pieces` holds whole names, <order>-<line>-<nnn>; times are local and naive.

    `until`: of `down` and `absent` the expected end, of `rush` the new due time, of `ready` and `spoiled` when
    the blanks are there. A rush's new priority stands in its note as "priority 3".
    """

    at: Moment
    what: LogWhat
    press: Name | None = None
    person: Name | None = None
    order: Name | None = None
    line: Name | None = None
    pieces: tuple[Name, ...] = ()
    until: Moment | None = None
    note: str = Field(default="", max_length=200)

    @field_validator("note")
    @classmethod
    def _prints(cls, value: str) -> str:
        if not value.isprintable():
            raise ValueError("must hold printable characters only; take the others out")
        return value

    @property
    def priority(self) -> float | None:
        """The new priority of a rush, from its note; None where the note gives none."""
        match = _PRIORITY.search(self.note) if self.what == "rush" else None
        return float(match[1]) if match else None

    @property
    def due(self) -> datetime | None:
        """The new due time of a rush."""
        return self.until if self.what == "rush" else None
