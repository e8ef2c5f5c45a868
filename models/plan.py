"""What a plan is: timetable rows, campaigns, finishes, goals (contract, section 7)."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from pydantic import BaseModel, ConfigDict

FORMAT = "pressday-plan/1"

What = Literal["change", "load", "prepress", "align", "dwell", "unload", "peel"]
HAND_ROWS: tuple[What, ...] = ("load", "align", "unload", "peel")
CLOSED_ROWS: tuple[What, ...] = ("prepress", "dwell")


@dataclass(frozen=True, slots=True)
class Row:
    """One interval of the timetable, [start, end), whole seconds.

    `press` is None on an off-press peel, `person` on change, prepress and dwell; `loading`, `operation`
    and `pieces` are empty on a change. `layers` are numbered from 1 within the placement.
    """

    start: datetime
    end: datetime
    what: What
    press: str | None = None
    person: str | None = None
    loading: int | None = None
    pieces: tuple[str, ...] = ()
    order: str | None = None
    line: str | None = None
    placement: str | None = None
    operation: int | None = None
    layers: tuple[int, ...] = ()
    temperature: int | None = None
    pressure: str | None = None

    @property
    def seconds(self) -> int:
        """How long the interval lasts."""
        return round((self.end - self.start).total_seconds())


class _Part(BaseModel):
    model_config = ConfigDict(extra="ignore", frozen=True, defer_build=True)


class GoalFigures(_Part):
    """Contract section 5's figures, in minutes; `gap` is (work_min - work_bound) / work_min.

    No plan has less than `late_bound`; none that is as good on the first goal has less than `work_bound`.
    """

    late_min: float
    late_bound: float
    work_min: float
    work_bound: float
    gap: float
    changes: int
    change_min: float
    peel_wait_min: float


class Campaign(_Part):
    """A stretch of work at one set-point and pressure on one press."""

    press: str
    temperature: int
    pressure: str
    start: datetime
    end: datetime
    pieces: int


class Finish(_Part):
    """When an order is done; late and slack in minutes, None where it has no due time.

    `holds_50`, `holds_80`, `holds_95`: the finish that holds in so many days of 100, `on_time` the share of days on
    which it is not late; None where no days were simulated, or nothing is due.
    """

    order: str
    customer: str
    pieces: int
    ready: datetime | None
    due: datetime | None
    finish: datetime
    late_min: float | None
    slack_min: float | None
    holds_50: datetime | None = None
    holds_80: datetime | None = None
    holds_95: datetime | None = None
    on_time: float | None = None


class Likely(_Part):
    """What the likely finishes rest on: simulated days, their seed, and what happens on one of them on average.

    `spoiled` pieces made again; of `closings`, `overpressed` ran past their dwell window as hands came late to a
    press that does not open by itself; `peeled_late` peels came after their window.
    """

    days: int
    seed: int
    spoiled: float
    closings: int
    overpressed: float
    peeled_late: float


class Busy(_Part):
    """Busy minutes of a press (a loading on it, or changing) or a person (hand rows)."""

    id: str
    busy_min: float


class WhatIf(_Part):
    """What came of planning the day with one thing changed; minutes late summed over orders, None without a plan."""

    name: str
    words: str
    finish: datetime | None
    late_min: float | None
    late_orders: tuple[str, ...] = ()
    reasons: tuple[str, ...] = ()


class Logged(_Part):
    """An operation of a piece that the log says is done, though no rows tell of it."""

    piece: str
    placement: str
    operation: int
    layers: tuple[int, ...]
    at: datetime


class OrderChange(_Part):
    """An order's old and new finish. `holds`: whether it is done by its due time (None: it has none).

    `was` None: it was not in the plan before; `now` None: nothing of it is left to do, it was cancelled.
    """

    order: str
    customer: str
    due: datetime | None
    was: datetime | None
    now: datetime | None
    holds: bool | None


class WorkChange(_Part):
    """Pieces of an order line's placement on one press, from one operation on; `press` the other press of a move."""

    order: str
    line: str
    placement: str
    operation: int
    pieces: int
    press: str | None = None


class PressChange(_Part):
    """What one press has more and less to do than before; `moved` came from other presses (named in each)."""

    press: str
    added: tuple[WorkChange, ...]
    dropped: tuple[WorkChange, ...]
    moved: tuple[WorkChange, ...]
    kept: int  # loadings it keeps in their order


class Errand(_Part):
    """A person's next hand row."""

    start: datetime
    what: str
    press: str | None
    order: str
    line: str
    placement: str


class PersonChange(_Part):
    """Where a person goes first from the moment on, by the plan before and now (None: nowhere)."""

    person: str
    was: Errand | None
    now: Errand | None


class Changes(_Part):
    """What a plan made again at `at` changes. `before` is the sha256 of the timetable.csv it was made again from.

    `moments` are those of all plannings since the first, this one last. `log` tells the lines of the log since the
    plan before, in words. `kept` of `left` loadings stay on their press and in their order.
    """

    at: datetime
    before: str
    moments: tuple[datetime, ...]
    log: tuple[str, ...]
    orders: tuple[OrderChange, ...]
    presses: tuple[PressChange, ...]
    people: tuple[PersonChange, ...]
    kept: int
    left: int
    logged: tuple[Logged, ...] = ()


class Plan(_Part):
    """plan.json. The rows stand beside it in timetable.csv. `changes`: None for a day planned from its start."""

    format: str = FORMAT
    start: datetime
    finish: datetime
    status: Literal["optimal", "feasible"]
    goals: GoalFigures
    presses: tuple[Busy, ...]
    people: tuple[Busy, ...]
    orders: tuple[Finish, ...]
    campaigns: tuple[Campaign, ...]
    likely: Likely | None = None
    warnings: tuple[str, ...] = ()
    inputs: dict[str, str] = {}
    seed: int = 0
    effort: str = "normal"
    version: str = ""
    what_if: tuple[WhatIf, ...] = ()

    changes: Changes | None = None
