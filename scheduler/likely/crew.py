"""Who takes the next hand row: the crew's rule of serving, for many simulated days at once.

Rows are taken in the order of the sheet. The person named on it takes a row, or whoever of those who run the press is
free sooner. What is due meanwhile is done in the gap while something late is waited for.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scheduler.likely.hours import Times, Windows

Marks = NDArray[np.bool_]


@dataclass(slots=True, eq=False)
class Turn:
    """A hand row offered to the crew: the earliest it can start, and who may take it, the one named first.

    `seconds` is what people reckon with, `lasts` what it takes in truth, each at the pace of the one named. `present`:
    it is begun only within people's hours (what is in hand on a press is finished by the one named whatever the hour).
    """

    earliest: Times
    who: Sequence[int]
    seconds: float
    lasts: Times
    planned: float
    wait: float
    present: bool
    window: Windows | None = None


@dataclass(slots=True, eq=False)
class Taken:
    """When a row starts and ends on each day, by whom (index), and whether it was put into a gap."""

    start: Times
    end: Times
    person: NDArray[np.intp]
    gap: Marks


class Crew:
    """People's time. `free[p]`: from when a person is free; `gaps[p]`: a time they wait for something late."""

    def __init__(self, paces: Sequence[float], factors: Sequence[Times], hours: Sequence[Windows], days: int) -> None:
        self.paces = np.asarray(paces, dtype=float)
        self.factors = np.array(factors)
        self.each = np.arange(days)
        self.hours = hours
        self.free = np.zeros((len(paces), days))
        self.gaps = np.zeros((2, len(paces), days))
        self._last_gap = np.zeros(len(paces))  # when the last of a person's gaps ends, over all days

    def offer(self, turn: Turn) -> Taken:
        """Who would take a row and when; nothing is changed."""
        starts = self._starts(turn)
        soonest = starts.min(axis=0)
        start = np.maximum(soonest, np.minimum(turn.planned, soonest + turn.wait)) if turn.wait else soonest
        pick = np.where(starts[0] <= start, 0, starts.argmin(axis=0))
        person = np.asarray(turn.who, dtype=np.intp)[pick]
        if turn.wait and turn.window is not None:
            start = turn.window.fit(start)
        end = start + turn.lasts * self._slow(turn, person)
        return self._fill(turn, Taken(start, end, person, np.zeros(start.shape, dtype=bool)))

    def soonest(self, turn: Turn) -> Times:
        """The earliest that anyone could take a row, its own wait and people's gaps left out."""
        first: Times = self._starts(turn).min(axis=0)
        return first

    def as_planned(self, turn: Turn) -> Taken:
        """The row taken when and by whom the sheet has it."""
        days = len(self.each)
        start = np.full(days, turn.planned)
        person = np.full(days, turn.who[0], dtype=np.intp)
        return Taken(start, start + turn.lasts, person, np.zeros(days, dtype=bool))

    def take(self, turn: Turn, taken: Taken, where: Marks) -> None:
        """The row is done by those who take it, on the days marked."""
        late = taken.start > turn.planned
        for p in turn.who:
            mine = where & (taken.person == p)
            if not mine.any():
                continue
            gap = mine & taken.gap
            own = mine & ~taken.gap
            if gap.any():
                self.gaps[0, p] = np.where(gap, taken.end, self.gaps[0, p])
            waits = own & late & (taken.start > self.free[p])
            if waits.any():
                self.gaps[0, p] = np.where(waits, self.free[p], self.gaps[0, p])
                self.gaps[1, p] = np.where(waits, taken.start, self.gaps[1, p])
                self._last_gap[p] = self.gaps[1, p].max()
            self.free[p] = np.where(own, taken.end, self.free[p])

    def free_after(self, who: Sequence[int], turn: Turn, taken: Taken) -> Times:
        """When one of them is free again if the row is taken as offered, as far as people can tell."""
        ends = taken.start + turn.seconds * self.paces[taken.person] / self.paces[turn.who[0]]
        people = np.asarray(who)[:, None]
        busy = (taken.person == people) & ~taken.gap
        soonest: Times = np.where(busy, ends, self.free[people[:, 0]]).min(axis=0)
        return soonest

    def _starts(self, turn: Turn) -> Times:
        """When each of them could start, people x days."""
        starts: Times = np.maximum(turn.earliest, self.free[list(turn.who)])
        if turn.window is not None:
            starts = turn.window.fit(starts)
        for n, p in enumerate(turn.who):
            if turn.present or n:
                starts[n] = self.hours[p].fit(starts[n], turn.seconds * self._ratio(turn, p))
        return starts

    def _ratio(self, turn: Turn, p: int) -> float:
        return float(self.paces[p] / self.paces[turn.who[0]])

    def _slow(self, turn: Turn, person: NDArray[np.intp]) -> Times:
        """How much slower than the sheet says the row is done by each day's person."""
        factor: Times = self.factors[person, self.each]
        if len(turn.who) == 1:
            return factor
        ratio: Times = self.paces[person] / self.paces[turn.who[0]]
        return factor * ratio

    def _fill(self, turn: Turn, taken: Taken) -> Taken:
        """Put the row into somebody's gap where it is due and fits there."""
        for p in turn.who:
            if self._last_gap[p] <= turn.planned:
                continue
            start = np.maximum(np.maximum(self.gaps[0, p], turn.earliest), turn.planned)
            end = start + turn.lasts * self.factors[p] * self._ratio(turn, p)
            fits = (end <= self.gaps[1, p]) & (start < taken.start)
            if fits.any():
                inside = self.hours[p].fit(start, turn.seconds * self._ratio(turn, p)) == start
                if turn.window is not None:
                    inside &= turn.window.fit(start) == start
                fits &= inside
                taken.start = np.where(fits, start, taken.start)
                taken.end = np.where(fits, end, taken.end)
                taken.person = np.where(fits, p, taken.person)
                taken.gap = np.where(fits, True, taken.gap)
        return taken
