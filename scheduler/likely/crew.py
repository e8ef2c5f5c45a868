"""Who takes the next hand row: the crew's rule of serving, for many simulated days at once.

Rows are taken in the order of the sheet. The person named on it takes a row, or whoever of those who run the press is
free sooner. What is due meanwhile is done in the gap while something late is waited for.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scheduler.likely.hours import Starts, Times, Windows

Marks = NDArray[np.bool_]


@dataclass(slots=True, eq=False)
class Turn:
    """A hand row offered to the crew: the earliest it can start, and who may take it, the one named first.

    `seconds` is what people reckon with, `lasts` what it takes in truth, each at the pace of the one named. `wait`: how
    long it waits for a better moment, as the plan does (None: not known yet). `present`: it is begun only within
    people's hours (what is in hand on a press is finished by the one named whatever the hour).
    """

    earliest: Times
    who: Sequence[int]
    seconds: float
    lasts: Times
    planned: float
    wait: float | None
    present: bool
    window: Starts | None = None


@dataclass(slots=True, eq=False)
class Taken:
    """When a row starts and ends on each day, by whom (index), and whether it was put into a gap (None: nowhere).

    `named`: on every day by the one named.
    """

    start: Times
    end: Times
    person: NDArray[np.intp]
    named: bool
    gap: Marks | None = None


class Crew:
    """People's time on each day, the first of which goes as planned. `free[p]`: from when a person is free;
    `gaps[p]`: a time they wait for something late."""

    def __init__(self, paces: Sequence[float], factors: Sequence[Times], hours: Sequence[Windows], days: int) -> None:
        self.paces = np.asarray(paces, dtype=float)
        self.factors = np.array(factors)
        self.each = np.arange(days)
        self._always = np.ones(days, dtype=bool)
        self.hours = hours
        self.free = np.zeros((len(paces), days))
        self.gaps = np.zeros((2, len(paces), days))
        self._alike = len(set(paces)) == 1
        self._last_gap = [0.0] * len(paces)  # when the last of a person's gaps ends, over all days
        self._busy = [0.0] * len(paces)  # until when they are busy at most, over all days

    def offer(self, turn: Turn) -> Taken:
        """Who would take a row and when; nothing is changed but the turn's wait, where it was not known."""
        lo = float(turn.earliest.min())
        starts = self._starts(turn, lo)
        soonest = starts.min(axis=0) if len(turn.who) > 1 else starts[0]
        if turn.wait is None:
            turn.wait = max(0.0, turn.planned - float(soonest[0]))
        start = np.maximum(soonest, np.minimum(turn.planned, soonest + turn.wait)) if turn.wait else soonest.copy()
        others = self._others(turn, starts, start)
        person = self._named(turn) if others is None else self._pick(turn, starts, others)
        if turn.wait and turn.window is not None:
            start = turn.window.fit(start)
        start[0] = turn.planned
        slow = self.factors[turn.who[0]] if others is None else self._slow(turn, person)
        taken = Taken(start, start + turn.lasts * slow, person, others is None)
        self._fill(turn, taken, lo)
        return taken

    def _others(self, turn: Turn, starts: Times, start: Times) -> Marks | None:
        """The days on which the one named could not start so soon; None where there are none."""
        if len(turn.who) == 1:
            return None
        others: Marks = starts[0] > start
        others[0] = False
        return others if np.count_nonzero(others) else None

    def _pick(self, turn: Turn, starts: Times, others: Marks) -> NDArray[np.intp]:
        """The one named, or whoever could start first where that is sooner."""
        person = self._named(turn)
        if len(turn.who) == 2:
            np.copyto(person, turn.who[1], where=others)
        else:
            person[others] = np.asarray(turn.who, dtype=np.intp)[starts[:, others].argmin(axis=0)]
        return person

    def _named(self, turn: Turn) -> NDArray[np.intp]:
        return np.full(len(self.each), turn.who[0], dtype=np.intp)

    def as_planned(self, turn: Turn) -> Taken:
        """The row taken when and by whom the sheet has it."""
        start = np.full(len(self.each), turn.planned)
        return Taken(start, start + turn.lasts, self._named(turn), True)

    def take(self, turn: Turn, taken: Taken, where: Marks | None) -> None:
        """The row is done by those who take it, on the days marked (None: all)."""
        late = taken.start > turn.planned
        done = float(taken.end.max())
        everywhere = taken.named and where is None
        for p in turn.who[:1] if everywhere else turn.who:
            own = self._always if everywhere else taken.person == p
            if where is not None:
                own &= where
            if taken.gap is not None:
                np.copyto(self.gaps[0, p], taken.end, where=own & taken.gap)
                own = own & ~taken.gap
            waits = own & late
            waits &= taken.start > self.free[p]
            if np.count_nonzero(waits):
                np.copyto(self.gaps[0, p], self.free[p], where=waits)
                np.copyto(self.gaps[1, p], taken.start, where=waits)
                self._last_gap[p] = float(self.gaps[1, p].max())
            self.occupy(p, taken.end, own, done)

    def occupy(self, person: int, until: Times, where: Marks, at_most: float) -> None:
        """Somebody is busy until then on the days marked, on none of them longer than `at_most`."""
        np.copyto(self.free[person], until, where=where)
        self._busy[person] = max(self._busy[person], at_most)

    def free_after(self, who: Sequence[int], turn: Turn, taken: Taken) -> Times:
        """When one of them is free again if the row is taken as offered, as far as people can tell."""
        ends = taken.start + turn.seconds * self.paces[taken.person] / self.paces[turn.who[0]]
        people = np.asarray(who)[:, None]
        busy = taken.person == people
        if taken.gap is not None:
            busy &= ~taken.gap
        soonest: Times = np.where(busy, ends, self.free[people[:, 0]]).min(axis=0)
        return soonest

    def _starts(self, turn: Turn, lo: float) -> Times:
        """When each of them could start, people x days; `lo`: the earliest of all."""
        starts: Times = np.maximum(turn.earliest, self.free[list(turn.who)])
        hi = max(float(turn.earliest.max()), *(self._busy[p] for p in turn.who))
        if turn.window is not None and not turn.window.hold(lo, hi):
            starts = turn.window.fit(starts)
            lo, hi = float(starts.min()), float(starts.max())
        for n, p in enumerate(turn.who):
            seconds = turn.seconds * self._ratio(turn, p)
            if (turn.present or n) and not self.hours[p].hold(lo, hi, seconds):
                starts[n] = self.hours[p].fit(starts[n], seconds)
        return starts

    def _ratio(self, turn: Turn, p: int) -> float:
        return 1.0 if self._alike else float(self.paces[p] / self.paces[turn.who[0]])

    def _slow(self, turn: Turn, person: NDArray[np.intp]) -> Times:
        """How much slower than the sheet says the row is done by each day's person."""
        factor: Times = self.factors[person, self.each]
        if self._alike:
            return factor
        ratio: Times = self.paces[person] / self.paces[turn.who[0]]
        return factor * ratio

    def _fill(self, turn: Turn, taken: Taken, lo: float) -> None:
        """Put the row into somebody's gap where it is due and fits there."""
        for p in turn.who:
            if self._last_gap[p] <= max(turn.planned, lo):
                continue
            start = np.maximum(np.maximum(self.gaps[0, p], turn.earliest), turn.planned)
            if not np.count_nonzero(start < self.gaps[1, p]):
                continue
            end = start + turn.lasts * self.factors[p] * self._ratio(turn, p)
            fits = (end <= self.gaps[1, p]) & (start < taken.start)
            if np.count_nonzero(fits):
                inside = self.hours[p].fit(start, turn.seconds * self._ratio(turn, p)) == start
                if turn.window is not None:
                    inside &= turn.window.fit(start) == start
                fits &= inside
                np.copyto(taken.start, start, where=fits)
                np.copyto(taken.end, end, where=fits)
                np.copyto(taken.person, p, where=fits)
                taken.named = False
                taken.gap = fits if taken.gap is None else taken.gap | fits
