"""The latest time the blanks must be there: the last ready time for which a plan was found that holds."""

from __future__ import annotations

from collections.abc import Callable

from scheduler.estimating.goals import Goal
from scheduler.estimating.placing import Asked, Placed, place

STEP = 300  # seconds: ready times are searched on this grid
_ROUNDS = 1


def latest_ready(asked: Asked, due: int, start: Placed) -> int | None:
    """The latest ready time, seconds from the start on a grid of STEP, for which the new lines were still done by
    `due` with every promise kept; None where even at once is too late.

    A searched figure: at the next step none of the plans tried was in time. `start` is where the search begins.
    """
    day = asked.today.day
    given = max((day.seconds(line.ready) for line in asked.more if line.ready is not None), default=0)
    given = max(given, asked.today.begins)
    first = given // STEP
    if not (start.kept and start.done <= due) and not _holds(asked, due, given, start):
        return None
    last = max(first, (due - shortest(start, asked.today.count)) // STEP)
    found = last_true(lambda step: _holds(asked, due, STEP * step, start), first, last + 1)
    return max(given, STEP * found)


def shortest(placed: Placed, first: int) -> int:
    """Seconds that a piece of the quickest line, counted from `first` on, lies under heat at least."""
    instance = placed.instance
    return min(
        sum(min(instance.timing(t, p, 1, fit.lo).closed for p, fit in t.fits.items()) for t in stages)
        for stages in instance.stages[first:]
    )


def last_true(holds: Callable[[int], bool], low: int, high: int) -> int:
    """The last number that holds before one that doesn't, by halving; `low` holds and `high` doesn't."""
    while high - low > 1:
        middle = (low + high) // 2
        if holds(middle):
            low = middle
        else:
            high = middle
    return low


def _holds(asked: Asked, due: int, ready: int, start: Placed) -> bool:
    found = place(asked, Goal("by", due), asked.today.day.at(ready), _ROUNDS, 1, 0, start)
    return found.kept and found.done <= due
