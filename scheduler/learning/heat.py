"""Heating and cooling of presses from the time between two `done` lines with a change of setting between them.

From that time goes what the plan has besides the change: the loading after it at the hand times learnt, and gaps. What
is left, less settling, is held against what the written rate or time constant gives; the mean of these ratios over the
changes of a press, one way, corrects it.
"""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Literal

import numpy as np

from models.day import Day
from models.log import Entry
from models.order import OrderLine
from models.plan import Row
from models.shop import Press
from scheduler import thermal
from scheduler.learning.hands import Factor, Learnt
from scheduler.learning.ticks import Stops, Tick, ticks_of, written
from scheduler.logbook.history import Course
from scheduler.logbook.loadings import Loading

Way = Literal["up", "down"]
FEWEST_CHANGES = 3  # of one press, one way, below which nothing is said
SHORTEST_S = 60  # shorter changes drown in the hand rows beside them
_MOST_GAP_S = 30  # the plan's own waits beside a change
_PAUSE = 4.0  # a ratio so many spreads from the middle one is a pause or a late line
_Z = 1.96


@dataclass(frozen=True, slots=True)
class Heat:
    """What a press's time to heat (`way` "up") or cool ("down") is to be multiplied by."""

    press: str
    way: Way
    factor: Factor


def learn_heat(
    day: Day, rows: Sequence[Row], log: Sequence[Entry], hands: Learnt, spread: float
) -> tuple[list[Heat], list[str]]:
    """A factor for each press and way with enough changes, and a sentence for each with too few.

    `hands`: what the log says of hand times; `spread`: how far changes stray (coefficient of variation), the least
    that is taken for the uncertainty.
    """
    found: list[Heat] = []
    thin: list[str] = []
    for (press, way), ratios in _ratios(day, rows, log, hands).items():
        if len(ratios) < FEWEST_CHANGES:
            word = "heating" if way == "up" else "cooling"
            thin.append(f"{word} of press {press}: {len(ratios)} changes timed, {FEWEST_CHANGES} are wanted")
        else:
            found.append(Heat(press, way, _mean(ratios, spread)))
    return found, thin


def _mean(ratios: Sequence[float], spread: float) -> Factor:
    each = np.array(ratios)
    middle = float(np.median(each))
    kept = each[np.abs(each - middle) <= _PAUSE * max(spread, 0.02) * middle]
    mean = float(kept.mean())
    sd = max(spread * mean, float(kept.std(ddof=1)) if len(kept) > 1 else 0.0)
    half = _Z * sd / math.sqrt(len(kept))
    return Factor(mean, mean - half, mean + half, len(kept))


def _ratios(
    day: Day, rows: Sequence[Row], log: Sequence[Entry], hands: Learnt
) -> Mapping[tuple[str, Way], list[float]]:
    course, quiet = Course(rows), Stops(day, log)
    found: dict[tuple[str, Way], list[float]] = defaultdict(list)
    for name, ticks in ticks_of(rows, log).items():
        told = {tick.loading.number: tick for tick in ticks}
        changes = sorted((r for r in rows if r.what == "change" and r.press == name), key=lambda r: r.start)
        for earlier, change in pairwise(changes):
            pair = _beside(course, name, change, told)
            if pair is None or not quiet.clear(name, pair[0].at, pair[1].at):
                continue
            moving = _moving(day, day.presses[name], earlier, change)
            if moving >= SHORTEST_S:
                way: Way = "up" if (change.temperature or 0) > (earlier.temperature or 0) else "down"
                seconds = _changing(day, change, *pair, hands) - (change.seconds - moving)
                found[name, way].append(seconds / moving)
    return found


def _moving(day: Day, press: Press, earlier: Row, change: Row) -> float:
    """Seconds the written figures give for the change of temperature alone."""
    a, b, room = earlier.temperature or 0, change.temperature or 0, day.shop.room_temperature
    if a == b or earlier.start.date() != change.start.date():
        return 0.0
    return thermal.heating_seconds(press, a, b) if b > a else thermal.cooling_seconds(press, a, b, room)


def _beside(course: Course, press: str, change: Row, told: Mapping[int, Tick]) -> tuple[Tick, Tick] | None:
    """The lines of the loadings before and after a change, where the plan has hardly a gap beside it."""
    before = [x for x in course.on[press] if x.end <= change.start][-1:]
    after = [x for x in course.on[press] if x.start >= change.end][:1]
    if not before or not after or before[0].number not in told or after[0].number not in told:
        return None
    gaps = (change.start - before[0].end) + (after[0].start - change.end)
    return None if gaps > timedelta(seconds=_MOST_GAP_S) else (told[before[0].number], told[after[0].number])


def _changing(day: Day, change: Row, before: Tick, after: Tick, hands: Learnt) -> float:
    """Seconds the change took: the time between the lines less all that the plan has there besides."""
    besides = (change.start - _over(before.loading)) + (_over(after.loading) - change.end)
    line = next(ln for ln in day.lines if ln.key == (after.loading.order, after.loading.line))
    longer = sum(_expected(day, line, row, hands) - row.seconds for row in after.loading.rows if row.person)
    return (after.at - before.at - besides).total_seconds() - longer


def _expected(day: Day, line: OrderLine, row: Row, hands: Learnt) -> float:
    """A hand row's seconds by what is written and what the log says of it."""
    who = row.person or ""
    kind = next((f.value for kinds, f in hands.kinds.items() if row.what in kinds), 1.0)
    person = hands.people[who].value if who in hands.people else 1.0
    return written(day, line, row) * day.people[who].pace * kind * person


def _over(loading: Loading) -> datetime:
    return max(row.end for row in loading.rows)
