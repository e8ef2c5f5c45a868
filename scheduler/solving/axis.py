"""Working time laid end to end: the model's axis, without nights, breaks and closed days."""

from __future__ import annotations

from bisect import bisect_right

from scheduler.calendar import Spans


class Axis:
    """Working seconds from the start, and back. `spans` are the shop's working windows."""

    def __init__(self, spans: Spans) -> None:
        self.spans = spans
        self.starts = [start for start, _ in spans]
        self.before = [0]
        for start, end in spans:
            self.before.append(self.before[-1] + end - start)

    @property
    def total(self) -> int:
        """Working seconds in the horizon."""
        return self.before[-1]

    def work(self, real: int) -> int:
        """Working seconds that have passed by a real moment."""
        at = bisect_right(self.starts, real) - 1
        return self.before[at] + min(real, self.spans[at][1]) - self.spans[at][0] if at >= 0 else 0

    def real(self, work: int) -> int:
        """The real moment by which so many working seconds have passed, the earliest."""
        if work <= 0:
            return self.spans[0][0] if self.spans else 0
        index = min(bisect_right(self.before, work - 1) - 1, len(self.spans) - 1)
        return self.spans[index][0] + work - self.before[index]

    def gaps(self) -> list[tuple[int, int]]:
        """(working seconds before it, real seconds it lasts) of each stretch that is left out."""
        found = []
        for i in range(len(self.spans) - 1):
            found.append((self.before[i + 1], self.spans[i + 1][0] - self.spans[i][1]))
        return found
