"""Who does the hand rows: every row goes to somebody, in whole seconds at their pace.

Rows that take place on a platen are shared out press by press among those who run it, for they take the platen's
time at that person's pace; a last peel may be done by anybody, off the press.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

from ortools.sat.python import cp_model

from scheduler.instance import Instance
from scheduler.linear import total
from scheduler.solving.least import least_row
from scheduler.solving.loads import Run

TENTH = 10

Row = tuple[float, int]  # seconds a piece at pace 1, pieces it may serve at once
Terms = list[cp_model.LinearExprT]


@dataclass
class Rows:
    """How many pieces ask for each row: on each press's platens, and off them."""

    on: dict[tuple[int, Row], Terms] = field(default_factory=dict)
    off: dict[Row, Terms] = field(default_factory=dict)

    def add(self, press: int, run: Run, pieces: cp_model.LinearExprT) -> None:
        """So many pieces take the rows of this run on this press."""
        gang = run.fits[press].capacity
        for seconds in run.on:
            self.on.setdefault((press, (seconds, gang)), []).append(pieces)
        for seconds in run.off:
            self.off.setdefault((seconds, gang), []).append(pieces)


@dataclass(frozen=True)
class Shared:
    """Tenths of seconds: of each press's platens in hand rows, and of each person's time."""

    platens: Mapping[int, cp_model.LinearExpr]
    people: tuple[cp_model.LinearExpr, ...]


def share_rows(model: cp_model.CpModel, instance: Instance, rows: Rows, most: int) -> Shared:
    """Share the rows out; `most`: no row is asked for more often on one press, piece by piece and run by run."""
    people: list[Terms] = [[] for _ in instance.people]
    platens: dict[int, Terms] = {press.index: [] for press in instance.presses}
    for (press, row), pieces in rows.on.items():
        able = [who.index for who in instance.people if press in who.presses]
        for who, part in _split(model, able, pieces, most):
            seconds = tenths(instance.people[who].pace, row)
            people[who].append(seconds * part)
            platens[press].append(seconds * part)
    for row, pieces in rows.off.items():
        for who, part in _split(model, range(len(instance.people)), pieces, most * len(platens)):
            people[who].append(tenths(instance.people[who].pace, row) * part)
    return Shared({p: total(terms) for p, terms in platens.items()}, tuple(total(terms) for terms in people))


def tenths(pace: float, row: Row) -> int:
    """The least tenths of a second a piece of a row takes."""
    return math.floor(TENTH * least_row(pace, *row) + 1e-6)


def _split(
    model: cp_model.CpModel, able: range | list[int], pieces: Terms, most: int
) -> list[tuple[int, cp_model.LinearExprT]]:
    if len(able) == 1:
        return [(able[0], total(pieces))]
    parts = [model.new_int_var(0, most, "") for _ in able]
    model.add(total(parts) == total(pieces))
    return list(zip(able, parts, strict=True))
