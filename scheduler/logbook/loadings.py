"""The timetable's rows put together again as loadings with their closings."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from models.plan import Row

Step = tuple[str, int]  # placement, number of the operation within it


@dataclass(frozen=True, slots=True)
class Closing:
    """One operation in a loading: when the press opens, and when its peel is over (None: nothing is peeled)."""

    step: Step
    opens: datetime
    peel: Row | None

    @property
    def over(self) -> datetime:
        """When nothing of it is left to do."""
        return self.opens if self.peel is None else max(self.opens, self.peel.end)


@dataclass(frozen=True, slots=True)
class Loading:
    """Pieces dressed on a platen once, as planned: on the press in [start, end); peels off the press come later."""

    number: int
    press: str
    pieces: tuple[str, ...]
    order: str
    line: str
    placement: str
    start: datetime
    end: datetime
    rows: tuple[Row, ...]
    closings: tuple[Closing, ...]

    @property
    def steps(self) -> tuple[Step, ...]:
        """The operations it presses, in order."""
        return tuple(closing.step for closing in self.closings)


def loadings_of(rows: Iterable[Row]) -> list[Loading]:
    """Every loading by its start. Rows without a number, pieces or a press to lie on are left out."""
    by_number: dict[int, list[Row]] = defaultdict(list)
    for row in rows:
        if row.loading is not None and row.what != "change":
            by_number[row.loading].append(row)
    made = (_loading(number, sorted(own, key=_by_time)) for number, own in by_number.items())
    return sorted((x for x in made if x is not None), key=lambda x: (x.start, x.number))


def _by_time(row: Row) -> tuple[datetime, datetime]:
    return row.start, row.end


def _loading(number: int, rows: list[Row]) -> Loading | None:
    on_press = [row for row in rows if row.press is not None]
    if not on_press:
        return None
    first = on_press[0]
    return Loading(
        number=number,
        press=first.press or "",
        pieces=first.pieces,
        order=first.order or "",
        line=first.line or "",
        placement=first.placement or "",
        start=first.start,
        end=max(row.end for row in on_press),
        rows=tuple(rows),
        closings=tuple(_closing(row, rows) for row in on_press if row.what == "dwell"),
    )


def _closing(dwell: Row, rows: list[Row]) -> Closing:
    step = (dwell.placement or "", dwell.operation or 0)
    peel = next((row for row in rows if row.what == "peel" and row.operation == dwell.operation), None)
    return Closing(step, dwell.end, peel)
