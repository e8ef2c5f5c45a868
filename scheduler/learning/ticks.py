"""What lies between two `done` lines of a press: loadings whose hand rows and dwells are known from the plan.

A line tells when a loading was done, no more. Between two lines of one press lie the loadings that follow the first,
so the time between them is their dwells, which the press counts, and their hand rows, as long as the press was never
idle in between. Only such stretches are taken: by the plan each loading follows the one before it at once, its rows
follow each other at once, and no change, break, closing time or stop lies between.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise

from models.day import Day
from models.log import Entry
from models.order import OrderLine
from models.plan import Row, What
from scheduler import calendar
from scheduler.calendar import Span
from scheduler.logbook.history import Course
from scheduler.logbook.loadings import Loading
from scheduler.logbook.spans import in_time, outs

ADJOINING_S = 2  # a gap so short in the plan is none
SPARE_S = 8  # who has so long between two places is there in time
MOST_AT_ONCE = 4  # loadings between two lines; with more too much may have happened

Column = What  # the kind of a hand row


@dataclass(frozen=True, slots=True)
class Tick:
    """A loading that was done, by a line of the log."""

    at: datetime
    loading: Loading
    person: str | None


@dataclass(frozen=True, slots=True)
class Stretch:
    """So many seconds on one press between two lines. `closed`: seconds under heat and cooling on the press, which it
    counts; `hands`: seconds of hand rows at a pace of 1 as written down, by kind and person."""

    press: str
    seconds: float
    closed: float
    hands: Mapping[tuple[Column, str], float]
    loadings: int


def ticks_of(rows: Sequence[Row], log: Sequence[Entry]) -> dict[str, list[Tick]]:
    """Each press's loadings that are done by its own lines, in time order; the first line of a loading counts."""
    course = Course(rows)
    found: dict[str, list[Tick]] = defaultdict(list)
    seen: set[int] = set()
    for entry in in_time(log):
        if entry.what != "done" or entry.press is None:
            continue
        loading = _told(course, entry)
        if loading is not None and loading.number not in seen:
            seen.add(loading.number)
            found[entry.press].append(Tick(entry.at, loading, entry.person))
    return found


def _told(course: Course, entry: Entry) -> Loading | None:
    """The loading a line tells of, where it tells of exactly one: that of its pieces nearest in time."""
    if not entry.pieces:
        there = [x for x in course.on.get(entry.press or "", ()) if x.start <= entry.at < x.end]
        return there[0] if len(there) == 1 else None
    there = [x for x in course.of_piece.get(entry.pieces[0], ()) if x.press == entry.press]
    mine = [x for x in there if set(x.pieces) == set(entry.pieces)]
    return min(mine, key=lambda x: abs((x.end - entry.at).total_seconds()), default=None)


def stretches(day: Day, rows: Sequence[Row], log: Sequence[Entry]) -> list[Stretch]:
    """Every stretch between two lines of a press that the plan lets be told apart into dwells and hand rows."""
    course, quiet, hurried = Course(rows), Stops(day, log), _hurried(rows)
    found = []
    for press, ticks in ticks_of(rows, log).items():
        if day.presses[press].stations > 1:
            continue
        order = {x.number: n for n, x in enumerate(course.on[press])}
        changes = [row for row in rows if row.what == "change" and row.press == press]
        for first, last in pairwise(_in_plan_order(ticks, order)):
            between = course.on[press][order[first.loading.number] : order[last.loading.number] + 1]
            if _adjoin(between, changes) and quiet.clear(press, first.at, last.at) and not _awaited(between, hurried):
                found.append(_stretch(day, press, (last.at - first.at).total_seconds(), between[1:], last.person))
    return [x for x in found if x.seconds > 0]


def _in_plan_order(ticks: Sequence[Tick], order: Mapping[int, int]) -> list[Tick]:
    """Lines whose loadings follow each other as planned; one written before its time with the next is left out."""
    kept: list[Tick] = []
    for tick in ticks:
        if not kept or order[tick.loading.number] > order[kept[-1].loading.number]:
            kept.append(tick)
    return kept


def _adjoin(between: Sequence[Loading], changes: Sequence[Row]) -> bool:
    """Whether by the plan the press is never idle between these loadings, and they leave no doubt when one is done."""
    if len(between) > MOST_AT_ONCE + 1:
        return False
    off_press = [any(row.press is None for row in x.rows) for x in between]
    if any(off_press) and len({(x.steps, x.order, x.line) for x in between}) > 1:
        return False
    start, end = between[0].end, between[-1].start
    if any(start <= row.start < end or start < row.end <= end for row in changes):
        return False
    gaps = ((b.start - a.end).total_seconds() for a, b in pairwise(between))
    return all(gap <= ADJOINING_S for gap in gaps) and all(_busy(x) for x in between[1:])


def _awaited(between: Sequence[Loading], hurried: set[int]) -> bool:
    """Whether the press may well have waited for hands: somebody comes straight from elsewhere."""
    return any(id(row) in hurried for x in between[1:] for row in x.rows)


def _hurried(rows: Sequence[Row]) -> set[int]:
    """The hand rows (by identity) to which somebody comes from another place with hardly a moment to spare."""
    last: dict[str, Row] = {}
    found: set[int] = set()
    for row in sorted((r for r in rows if r.person is not None), key=lambda r: (r.start, r.end)):
        before = last.get(row.person or "")
        if before is not None and before.press != row.press and (row.start - before.end).total_seconds() < SPARE_S:
            found.add(id(row))
        last[row.person or ""] = row
    return found


def _busy(loading: Loading) -> bool:
    """Whether its rows on the press follow each other at once."""
    rows = [row for row in loading.rows if row.press is not None]
    return all((b.start - a.end).total_seconds() <= ADJOINING_S for a, b in pairwise(rows))


class Stops:
    """Breaks, closing times and presses that are down: what may hold a press up between two lines."""

    def __init__(self, day: Day, log: Sequence[Entry]) -> None:
        self.day = day
        self.open = calendar.shop_windows(day)
        self.down = outs(in_time(log), "press")

    def clear(self, press: str, start: datetime, end: datetime) -> bool:
        """Whether nothing of that lies between."""
        span: Span = (self.day.seconds(start), self.day.seconds(end))
        inside = any(a <= span[0] and span[1] <= b for a, b in self.open)
        return inside and not any(
            out.start < end and (out.end is None or out.end > start) for out in self.down.get(press, ())
        )


def _stretch(day: Day, press: str, seconds: float, loadings: Iterable[Loading], person: str | None) -> Stretch:
    hands: dict[tuple[Column, str], float] = defaultdict(float)
    closed, count = 0.0, 0
    lines = {line.key: line for line in day.lines}
    for loading in loadings:
        count += 1
        line = lines[loading.order, loading.line]
        closed += sum(row.seconds for row in loading.rows if row.what in ("dwell", "prepress"))
        for row in loading.rows:
            if row.press is not None and row.person is not None:
                hands[row.what, person or row.person] += written(day, line, row)
    return Stretch(press, seconds, closed, dict(hands), count)


def written(day: Day, line: OrderLine, row: Row) -> float:
    """A hand row's seconds at a pace of 1, as shop.toml, catalog.toml and designs.toml have it."""
    pieces, shop, garment = len(row.pieces), day.shop.hands, day.garments[line.garment]
    if row.what == "load":
        return pieces * (shop.load_s if garment.load_s is None else garment.load_s)
    if row.what == "unload":
        return pieces * (shop.unload_s if garment.unload_s is None else garment.unload_s)
    layers = next(p.layer for p in day.design[line.design].placement if p.at == row.placement)
    laid = [(layers[number - 1], day.films[layers[number - 1].film]) for number in row.layers]
    if row.what == "align":
        return pieces * sum(_first(layer.align_s, film.align_s, shop.align_s) for layer, film in laid)
    return pieces * sum(_first(film.peel_hand_s, shop.peel_s) for _, film in laid)


def _first(*given: float | None) -> float:
    return next(value for value in given if value is not None)
