"""Working windows for many days at once: numpy arrays of seconds from the day's start, one entry a simulated day."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from scheduler.calendar import Span, Spans, common, union

Times = NDArray[np.float64]


class Windows:
    """Spans in which something may take place, asked for many days at once."""

    def __init__(self, spans: Spans) -> None:
        self.spans = spans
        self.starts = np.array([a for a, _ in spans], dtype=float)
        self.ends = np.array([b for _, b in spans], dtype=float)
        self._first, self._last = [float(a) for a, _ in spans], [float(b) for _, b in spans]
        lengths = self.ends - self.starts
        self._worked = np.concatenate([[0.0], np.cumsum(lengths)])  # working seconds passed by each span's end

    def hold(self, first: float, last: float, seconds: float = 0) -> bool:
        """Whether `seconds` from any moment of [first, last] on lie inside one and the same span, or there is none."""
        number = bisect_left(self._last, last + seconds)
        return not self._last or (number < len(self._last) and self._first[number] <= first)

    def fit(self, at: Times, seconds: float = 0) -> Times:
        """The earliest start from `at` on so that `seconds` lie inside one span.

        What finds no span any more (beyond two weeks) begins when asked for.
        """
        if self.hold(float(at.min()), float(at.max()), seconds):
            return at
        wide = self.ends - self.starts >= seconds
        starts, last = self.starts[wide], self.ends[wide] - seconds
        if not len(starts):
            return at
        found = np.searchsorted(last, at, side="left")
        beyond = found == len(starts)
        start: Times = np.maximum(at, starts[np.where(beyond, 0, found)])
        return np.where(beyond, at, start)

    def advance(self, at: Times, seconds: Times) -> Times:
        """When so many working seconds have passed from `at` on; beyond the last span the clock runs through."""
        if not len(self.starts):
            return at + seconds
        edges = np.column_stack([self.starts, self.ends]).ravel()
        worked = np.column_stack([self._worked[:-1], self._worked[1:]]).ravel()
        goal = np.interp(at, edges, worked) + seconds
        over = np.maximum(0.0, goal - self._worked[-1])
        # the earliest moment by which that much was worked: the end of a span, not the start of the next
        number = np.clip(np.searchsorted(self._worked[1:], goal, side="left"), 0, len(self.starts) - 1)
        reached: Times = self.starts[number] + np.minimum(goal, self._worked[-1]) - self._worked[number] + over
        return np.maximum(reached, at)

    def number(self, at: Times) -> NDArray[np.intp]:
        """The number of the last span begun by then, from 0; -1 before the first."""
        return np.searchsorted(self.starts, at, side="right") - 1


class Starts:
    """The starts of a loading from which each of its parts lies inside its own windows; a part is (windows, its offset
    from the loading's start, its seconds)."""

    def __init__(self, parts: Sequence[tuple[Windows, int, int]]) -> None:
        self._parts = parts
        self._windows: Windows | None = None

    def hold(self, first: float, last: float) -> bool:
        """Whether every moment of [first, last] is such a start, between the same breaks."""
        return all(windows.hold(first + offset, last + offset, seconds) for windows, offset, seconds in self._parts)

    def fit(self, at: Times) -> Times:
        """The earliest such starts from `at` on."""
        if self._windows is None:
            self._windows = Windows(self._closed())
        return self._windows.fit(at)

    def _closed(self) -> Spans:
        """As closed spans, of one moment perhaps."""
        found: Spans | None = None
        for windows, offset, seconds in self._parts:
            own: list[Span] = [(a - offset, b - offset - seconds + 1) for a, b in windows.spans if b - a >= seconds]
            found = union(own) if found is None else common(found, own)
        return tuple((a, b - 1) for a, b in found or ())
