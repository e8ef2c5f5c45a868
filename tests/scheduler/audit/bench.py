"""A bench to write timetables on by hand: one person does one thing after another, in times given outright.

It knows no rule. The numbers in the cases are worked out beside them, so a timetable is right because
a person can see that it is.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

from models.catalog import Catalog
from models.day import Day
from models.design import Designs
from models.order import OrderLine
from models.plan import Row
from models.shop import Shop

START = datetime(2026, 12, 1, 8)  # a Tuesday

SMOOTH = {"id": "smooth", "temperature": [300, 315], "dwell_s": [15, 18], "pressure": "medium", "peel": "warm"}
GLITTER = {"id": "glitter", "temperature": [320, 330], "dwell_s": 15, "pressure": "firm", "peel": "warm"}
TEE = {"id": "tee", "max_temperature": 340}
WALL = {"id": "wall", "platen": [16, 20], "temperature": [200, 430], "heat_up": 25, "cool_down": 4, "settle_s": 60}
WORDS = {"pressures": ["medium", "firm"], "pressure_change_s": 30}
ONE_BOX = [{"film": "smooth", "box": [0, 0, 11, 5]}]


def make_day(
    presses: Iterable[dict[str, Any]] = (WALL | WORDS,),
    films: Iterable[dict[str, Any]] = (SMOOTH,),
    garment: dict[str, Any] = TEE,
    placements: Iterable[dict[str, Any]] = ({"at": "front", "layer": ONE_BOX},),
    lines: Iterable[dict[str, Any]] = ({},),
    people: Iterable[dict[str, Any]] = ({"id": "ada"},),
    inputs: dict[str, str] | None = None,
    **shop: Any,
) -> Day:
    """A day from plain tables; what is left out is a small Fahrenheit shop, 8 to 17, break 12 to 12:30."""
    shop.setdefault("hours", {"open": "08:00", "close": "17:00", "breaks": [["12:00", "12:30"]]})
    line = {"order": "A", "line": "1", "garment": garment["id"], "design": "crest", "quantity": 2}
    return Day(
        shop=Shop.model_validate({"press": list(presses), "person": list(people), **shop}),
        catalog=Catalog.model_validate({"film": list(films), "garment": [garment]}),
        designs=Designs.model_validate({"design": [{"id": "crest", "placement": list(placements)}]}),
        lines=tuple(OrderLine.model_validate(line | given) for given in lines),
        start=START,
        inputs=inputs or {},
    )


@dataclass(frozen=True)
class Step:
    """One closing: its layers (none: a repress), seconds of each row, seconds from opening to peel."""

    layers: tuple[int, ...] = (1,)
    dwell: int = 15
    wait: int = 6
    align: int = 8
    peel: int = 4
    off: bool = True


class Bench:
    """Rows written one after another; `now` is where the next one starts."""

    def __init__(self, day: Day) -> None:
        self.day = day
        self.rows: list[Row] = []
        self.now = day.start
        self.setting: dict[str, tuple[int, str]] = {}
        self.number = 0

    def at(self, clock: str, date: int = 1) -> Bench:
        """Go on at this time of this day of December."""
        hours, minutes, seconds = map(int, clock.split(":"))
        self.now = datetime(2026, 12, date, hours, minutes, seconds)
        return self

    def change(self, press: str, temperature: int, pressure: str, seconds: int) -> Bench:
        """Set a press."""
        self.setting[press] = (temperature, pressure)
        self._row("change", seconds, press, None)
        return self

    def loading(
        self,
        press: str,
        pieces: Iterable[int] = (1,),
        steps: Iterable[Step] = (Step(),),
        placement: str = "front",
        first: int = 1,
        person: str = "ada",
        prepress: int | None = None,
        load: int = 10,
        unload: int = 4,
        line: tuple[str, str] = ("A", "1"),
    ) -> Bench:
        """Dress, press, undress; then peel off the press what was not peeled on it."""
        self.number += 1
        held: dict[str, Any] = {"loading": self.number, "order": line[0], "line": line[1], "placement": placement}
        held["pieces"] = tuple(f"{line[0]}-{line[1]}-{n:03d}" for n in pieces)
        self._row("load", load, press, person, **held)
        if prepress is not None:
            self._row("prepress", prepress, press, None, operation=first, **held)
        later: Callable[[], None] = lambda: None  # noqa: E731
        for number, step in enumerate(steps, first):
            held |= {"operation": number, "layers": step.layers}
            if step.layers:
                self._row("align", step.align, press, person, **held)
            self._row("dwell", step.dwell, press, None, **held)
            opened = self.now
            if step.layers and not step.off:
                self.now = opened + timedelta(seconds=step.wait)
                self._row("peel", step.peel, press, person, **held)
            elif step.layers:
                later = lambda s=step, o=opened, h=dict(held): self._later(s, o, person, press, h)  # noqa: E731
        held |= {"layers": (), "operation": None}
        self._row("unload", unload, press, person, **held)
        later()
        return self

    def _later(self, step: Step, opened: datetime, person: str, press: str, held: dict[str, Any]) -> None:
        self.now = opened + timedelta(seconds=step.wait)
        self._row("peel", step.peel, None, person, **held)

    def _row(self, what: Any, seconds: int, press: str | None, person: str | None, **held: Any) -> None:
        temperature, pressure = self.setting[press] if press else (None, None)
        end = self.now + timedelta(seconds=seconds)
        row = Row(self.now, end, what, press, person, temperature=temperature, pressure=pressure, **held)
        self.rows.append(row)
        self.now = end

    def done(self) -> tuple[Day, list[Row]]:
        """The day and its rows in order of start."""
        return self.day, in_order(self.rows)


def in_order(rows: Iterable[Row]) -> list[Row]:
    """Rows as a timetable lists them."""
    return sorted(rows, key=lambda row: row.start)


def find(rows: list[Row], what: str, number: int = 1) -> int:
    """The place of the n-th row of a kind."""
    return next(itertools.islice((i for i, row in enumerate(rows) if row.what == what), number - 1, None))


def edited(rows: list[Row], what: str, number: int = 1, **changes: Any) -> list[Row]:
    """The rows with one of them changed."""
    rows = list(rows)
    place = find(rows, what, number)
    rows[place] = replace(rows[place], **changes)
    return in_order(rows)


def shifted(rows: list[Row], what: str, number: int = 1, start: int = 0, end: int = 0) -> list[Row]:
    """The rows with the start and end of one of them moved by so many seconds."""
    row = rows[find(rows, what, number)]
    return edited(rows, what, number, start=row.start + timedelta(seconds=start), end=row.end + timedelta(seconds=end))


def moved(rows: list[Row], loading: int, seconds: int) -> list[Row]:
    """The rows with a whole loading moved."""
    by = timedelta(seconds=seconds)
    return in_order(replace(r, start=r.start + by, end=r.end + by) if r.loading == loading else r for r in rows)


def without(rows: list[Row], what: str, number: int = 1) -> list[Row]:
    """The rows without one of them."""
    place = find(rows, what, number)
    return [*rows[:place], *rows[place + 1 :]]
