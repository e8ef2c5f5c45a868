"""Who goes on with what somebody had in hand who left.

A hand row that was begun is ended. The rows that come after it go to somebody else who runs the press and is free,
at the times planned where both work at one pace, else later by what they need more. Where nobody can, the loading
is given up at the moment it was left, as under a press that goes down.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from models.catalog import Garment
from models.day import Day
from models.plan import Row
from scheduler import calendar
from scheduler.logbook import State
from scheduler.logbook.spans import Out
from scheduler.logbook.state import Taken

_STEP = 1  # seconds by which a peel off the press is put off while everybody is busy
_LONGEST = 14_400  # a peel without a latest moment is put off so long at most


@dataclass(frozen=True)
class Handed:
    """The loadings begun, with other people in them where somebody left, and those given up: when, by number."""

    taken: tuple[Taken, ...]
    left: dict[int, datetime]


def hand_over(day: Day, state: State, absent: Mapping[str, Sequence[Out]], latest: Mapping[int, int]) -> Handed:
    """Give the rows of people who left to others. `latest`: by loading, seconds from the opening to the last moment
    of its peel off the press, where there is one."""
    return _Handing(day, state, absent, latest).run()


class _Handing:
    def __init__(self, day: Day, state: State, absent: Mapping[str, Sequence[Out]], latest: Mapping[int, int]) -> None:
        self.day, self.state, self.absent, self.latest = day, state, absent, latest
        self.windows = {who: calendar.person_windows(day, who) for who in day.people}
        self.rows = {x.loading.number: list(x.rows) for x in state.taken}

    def run(self) -> Handed:
        taken, left = [], {}
        for item in self.state.taken:
            number = item.loading.number
            first = next((row for row in item.rows if self._gone(row)), None)
            if first is not None:
                rows = self._handed(item)
                if rows is None:
                    left[number] = self._left_at(item, first)
                else:
                    self.rows[number] = rows
                    end = max([r.end for r in rows if r.press is not None], default=item.off)
                    item = replace(item, rows=tuple(rows), off=max(item.off, end) if not item.ended else item.off)
            taken.append(item)
        return Handed(tuple(taken), left)

    def _gone(self, row: Row) -> bool:
        """Whether its person had left when it should begin."""
        return row.person is not None and any(out.holds(row.start) for out in self.absent.get(row.person, ()))

    def _left_at(self, item: Taken, first: Row) -> datetime:
        out = next(out for out in self.absent[first.person or ""] if out.holds(first.start))
        if first.press is None:  # what nobody peels in time has to be pressed again
            opened = next((c.opens for c in item.loading.closings if c.step[1] == first.operation), first.start)
            return min(out.start, opened - timedelta(seconds=1))
        return max(out.start, item.loading.start + timedelta(seconds=1))

    def _handed(self, item: Taken) -> list[Row] | None:
        """The loading's rows with somebody there for each, or None."""
        rows = sorted(item.rows, key=lambda row: (row.start, row.end))
        on_press = [row for row in rows if row.press is not None]
        made: list[Row] = []
        late = timedelta(0)
        for row in on_press:
            moved = replace(row, start=row.start + late, end=row.end + late)
            if self._gone(row):
                stand_in = next(self._stand_ins(moved, made, item), None)
                if stand_in is None:
                    return None
                late += stand_in.end - moved.end
                moved = stand_in
            elif late and moved.person is not None and not self._free(moved.person, moved, made, item):
                return None
            made.append(moved)
        if late and not self._still_fits(item, made):
            return None
        for row in (row for row in rows if row.press is None):
            peel = self._peel(replace(row, start=row.start + late, end=row.end + late), made, item)
            if peel is None:
                return None
            made.append(peel)
        return made

    def _still_fits(self, item: Taken, made: Sequence[Row]) -> bool:
        """Whether a loading that goes on later is off in time, alone under its heat."""
        press = self.day.presses[item.loading.press]
        span = (self.day.seconds(made[0].start), self.day.seconds(made[-1].end))
        inside = any(a <= span[0] and span[1] <= b for a, b in calendar.press_windows(self.day, press.id))
        return inside and press.stations == 1

    def _peel(self, row: Row, made: Sequence[Row], item: Taken) -> Row | None:
        """A peel off the press by its own person or another, put off while nobody is free."""
        own = row.person or ""
        opened = next((c.opens for c in item.loading.closings if c.step[1] == row.operation), row.start)
        latest = self.latest.get(item.loading.number)
        last = row.start + timedelta(seconds=_LONGEST) if latest is None else opened + timedelta(seconds=latest)
        begin = row.start
        while begin <= last:
            moved = replace(row, start=begin, end=begin + (row.end - row.start))
            if not self._gone(moved) and self._free(own, moved, made, item):
                return moved
            stand_in = next(self._stand_ins(moved, made, item), None)
            if stand_in is not None:
                return stand_in
            begin += timedelta(seconds=_STEP)
        return None

    def _stand_ins(self, row: Row, made: Sequence[Row], item: Taken) -> Iterator[Row]:
        """The row by everybody who could do it, those of the same pace first."""
        pace = self.day.people[row.person or ""].pace
        for who in sorted(self.day.people.values(), key=lambda p: (p.pace != pace, p.id)):
            if row.press is not None and who.presses is not None and row.press not in who.presses:
                continue
            seconds = row.seconds if who.pace == pace else self._seconds(row, who.pace, pace)
            moved = replace(row, person=who.id, end=row.start + timedelta(seconds=seconds))
            if who.id != row.person and not self._gone(moved) and self._free(who.id, moved, made, item):
                yield moved

    def _seconds(self, row: Row, pace: float, planned: float) -> int:
        """How long a row takes at another pace; loads and unloads from their hand times, others in proportion."""
        garment = self._garment(row)
        hands = self.day.shop.hands
        each = {
            "load": hands.load_s if garment.load_s is None else garment.load_s,
            "unload": hands.unload_s if garment.unload_s is None else garment.unload_s,
        }.get(row.what)
        if each is None:
            return max(1, math.ceil(row.seconds * pace / planned - 1e-9)) if row.seconds else 0
        return math.ceil(pace * len(row.pieces) * each - 1e-9)

    def _garment(self, row: Row) -> Garment:
        line = next(line for line in self.day.lines if line.key == (row.order, row.line))
        return self.day.garments[line.garment]

    def _free(self, who: str, row: Row, made: Sequence[Row], item: Taken) -> bool:
        """Whether somebody is there for the whole of a row and in no other that stands."""
        if any(out.end is None or out.end > row.start for out in self.absent.get(who, ()) if out.start < row.end):
            return False
        start, end = self.day.seconds(row.start), self.day.seconds(row.end)
        if not any(a <= start and end <= b for a, b in self.windows.get(who, ())):
            return False
        others = (r for number, rows in self.rows.items() if number != item.loading.number for r in rows)
        return not any(r.person == who and r.start < row.end and row.start < r.end for r in [*others, *made])
