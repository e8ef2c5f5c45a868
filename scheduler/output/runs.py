"""Rows of the timetable merged into runs: what a press does, one stretch of like loadings after another."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

from models.plan import Row

PeelPlace = Literal["", "on the press", "off the press", "on and off the press"]


@dataclass(frozen=True, slots=True)
class Run:
    """Consecutive loadings on one press with the same order, line, placement, operations and setting.

    `start` is the start of the first load, `end` the end of the last unload (off-press peels may come after).
    `operations` are numbers within the placement, `layers` numbers within it in the order they are laid (empty:
    a repress). `numbers` are those of the loadings in the timetable, `pieces` how many pieces they hold,
    `people` who has a hand in it, peels included, `dwell_s` the shortest and the longest dwell in seconds.
    """

    press: str
    order: str
    line: str
    placement: str
    operations: tuple[int, ...]
    layers: tuple[int, ...]
    temperature: int
    pressure: str
    start: datetime
    end: datetime
    loadings: int
    pieces: int
    people: tuple[str, ...]
    dwell_s: tuple[int, int]
    peel: PeelPlace
    numbers: tuple[int, ...]

    @property
    def minutes(self) -> float:
        """From the first load to the last unload."""
        return (self.end - self.start).total_seconds() / 60

    @property
    def repress(self) -> bool:
        """Whether nothing is laid, only pressed again."""
        return not self.layers


def runs_of(rows: Iterable[Row]) -> list[Run]:
    """The runs of a timetable by start, then press. A change of setting or a warm-up ends a run."""
    on_press: dict[str, list[_Stretch]] = {}
    for stretch in _stretches(rows):
        on_press.setdefault(stretch.press, []).append(stretch)
    runs = [_run(group) for stretches in on_press.values() for group in _alike(stretches)]
    return sorted(runs, key=lambda run: (run.start, run.press))


@dataclass(frozen=True, slots=True)
class _Stretch:
    """One loading with its rows on and off the press; `setting_no` counts the changes before it on its press."""

    press: str
    number: int
    setting_no: int
    rows: tuple[Row, ...]

    @property
    def operations(self) -> tuple[int, ...]:
        return tuple(dict.fromkeys(row.operation for row in self.rows if row.operation is not None))

    @property
    def key(self) -> tuple[object, ...]:
        first = self.rows[0]
        setting = (first.temperature, first.pressure, self.setting_no)
        return (first.order, first.line, first.placement, self.operations, *setting)


def _stretches(rows: Iterable[Row]) -> list[_Stretch]:
    """The loadings by start of their first row on the press."""
    changes: dict[str, int] = {}
    found: dict[int, list[Row]] = {}
    place: dict[int, tuple[str, int]] = {}
    for row in sorted(rows, key=lambda r: (r.start, r.end)):
        if row.what == "change" and row.press is not None:
            changes[row.press] = changes.get(row.press, 0) + 1
        elif row.loading is not None:
            found.setdefault(row.loading, []).append(row)
            if row.press is not None:
                place.setdefault(row.loading, (row.press, changes.get(row.press, 0)))
    return [_Stretch(press, number, changed, tuple(found[number])) for number, (press, changed) in place.items()]


def _alike(stretches: Sequence[_Stretch]) -> list[list[_Stretch]]:
    groups: list[list[_Stretch]] = []
    for stretch in stretches:
        if groups and groups[-1][-1].key == stretch.key:
            groups[-1].append(stretch)
        else:
            groups.append([stretch])
    return groups


def _run(group: Sequence[_Stretch]) -> Run:
    rows = [row for stretch in group for row in stretch.rows]
    on_press = [row for row in rows if row.press is not None]
    dwells = [row.seconds for row in rows if row.what == "dwell"]
    first = rows[0]
    return Run(
        press=group[0].press,
        order=first.order or "",
        line=first.line or "",
        placement=first.placement or "",
        operations=group[0].operations,
        layers=tuple(dict.fromkeys(layer for row in rows for layer in row.layers)),
        temperature=first.temperature or 0,
        pressure=first.pressure or "",
        start=min(row.start for row in on_press),
        end=max(row.end for row in on_press),
        loadings=len(group),
        pieces=len({piece for row in rows for piece in row.pieces}),
        people=tuple(dict.fromkeys(row.person for row in rows if row.person is not None)),
        dwell_s=(min(dwells, default=0), max(dwells, default=0)),
        peel=_peel(rows),
        numbers=tuple(stretch.number for stretch in group),
    )


def _peel(rows: Iterable[Row]) -> PeelPlace:
    on_press = {row.press is not None for row in rows if row.what == "peel"}
    if not on_press:
        return ""
    if len(on_press) == 2:
        return "on and off the press"
    return "on the press" if on_press.pop() else "off the press"
