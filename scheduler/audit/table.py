"""The timetable's rows, grouped once: by loading, press, person and piece."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from functools import cached_property

from models.catalog import Garment
from models.day import Day
from models.design import Placement
from models.order import OrderLine
from models.plan import Logged, Row
from scheduler.audit.day_log import Continued, DayLog
from scheduler.audit.finding import Finding
from scheduler.audit.hours import Hours

FILE = "timetable.csv"
_RANK = {"load": 0, "prepress": 1, "align": 2, "dwell": 3, "peel": 4, "unload": 5}

Setting = tuple[int, str]


@dataclass(slots=True, eq=False)
class Entry:
    """A row with its line in the file (the header is line 1) and its times in seconds from the start."""

    line: int
    start: int
    end: int
    row: Row

    @property
    def what(self) -> str:
        return self.row.what

    @property
    def seconds(self) -> int:
        return self.end - self.start


@dataclass(slots=True, eq=False)
class Closing:
    """One dwell with what belongs to it. `peel` may lie on the press or off it."""

    loading: Loading
    dwell: Entry
    prepress: Entry | None = None
    align: Entry | None = None
    peel: Entry | None = None
    number: int | None = None
    layers: tuple[int, ...] = ()

    @property
    def begin(self) -> int:
        """When hands are first laid on the piece for this closing, within the loading."""
        return self.align.start if self.align else self.dwell.start


@dataclass(slots=True, eq=False)
class Loading:
    """All rows of one loading, those on the press in order of time."""

    number: int
    on_press: list[Entry]
    off_press: list[Entry]
    line: OrderLine | None = None
    setting: Setting | None = None
    closings: list[Closing] = field(default_factory=list)

    @property
    def first(self) -> Entry:
        return self.on_press[0]

    @property
    def press(self) -> str:
        return self.first.row.press or ""

    @property
    def pieces(self) -> tuple[str, ...]:
        return self.first.row.pieces

    @property
    def placement(self) -> str:
        return self.first.row.placement or ""

    @property
    def start(self) -> int:
        return self.first.start

    @property
    def end(self) -> int:
        return max(entry.end for entry in self.on_press)


class Table:
    """A day and its rows as the rules want to see them. Nothing in it is judged yet."""

    def __init__(
        self,
        day: Day,
        rows: Sequence[Row],
        lines: Sequence[int] | None = None,
        continued: Continued | None = None,
    ) -> None:
        self.log = None if continued is None else DayLog(day, continued)
        self.day = day if self.log is None else self.log.wanted()
        self.room = day.shop.room_temperature
        numbers = range(2, len(rows) + 2) if lines is None else lines
        self.entries = [
            Entry(n, day.seconds(r.start), day.seconds(r.end), r) for n, r in zip(numbers, rows, strict=True)
        ]
        self.line_of: dict[str, OrderLine] = {piece: line for line in day.lines for piece in line.pieces}
        self.changes = _sorted_by(self.entries, lambda e: e.row.press if e.what == "change" else None)
        self.by_person = _sorted_by(self.entries, lambda e: e.row.person)
        self.loose: list[Entry] = []
        self.loadings = self._loadings()
        self.on: dict[str, list[Loading]] = {}
        for loading in sorted(self.loadings.values(), key=lambda ld: (ld.start, ld.number)):
            self.on.setdefault(loading.press, []).append(loading)
        self.every_closing = self._every_closing()
        self.closings_of = self._closings_that_count()

    @cached_property
    def hours(self) -> Hours:
        """Opening hours and absences on the dates the rows touch."""
        return Hours(self.day, (moment for entry in self.entries for moment in (entry.start, entry.end)))

    def clock(self, moment: int) -> str:
        """A moment as people read it."""
        return f"{self.day.at(moment):%Y-%m-%d %H:%M:%S}"

    def where(self, entry: Entry) -> str:
        """The place of a row: file, line, loading, press."""
        row = entry.row
        loading = "" if row.loading is None else f", loading {row.loading}"
        return f"{FILE} row {entry.line}{loading}" + ("" if row.press is None else f', press "{row.press}"')

    def find(self, rule: str, entry: Entry, message: str) -> Finding:
        """A finding at a row."""
        return Finding(rule, self.where(entry), message)

    def garment(self, loading: Loading) -> Garment | None:
        """The garment of a loading's line, where it is known."""
        return None if loading.line is None else self.day.garments.get(loading.line.garment)

    def placement(self, loading: Loading) -> Placement | None:
        """The placement a loading presses, where its design has it."""
        design = None if loading.line is None else self.day.design.get(loading.line.design)
        if design is None:
            return None
        return next((place for place in design.placement if place.at == loading.placement), None)

    def closings(self) -> Iterator[Closing]:
        """Every dwell, loading by loading."""
        for loading in self.loadings.values():
            yield from loading.closings

    def set_at(self, press: str, moment: int) -> Setting | None:
        """The setting a press shows at a moment, by its last finished change."""
        changes = self.changes.get(press, [])
        done = bisect_right(changes, moment, key=lambda change: change.end)
        if not done:
            return None
        row = changes[done - 1].row
        return None if row.temperature is None or row.pressure is None else (row.temperature, row.pressure)

    def _loadings(self) -> dict[int, Loading]:
        grouped: dict[int, Loading] = {}
        for entry in self.entries:
            if entry.what == "change":
                continue
            number = entry.row.loading
            if number is None:
                self.loose.append(entry)
                continue
            loading = grouped.setdefault(number, Loading(number, [], []))
            away = entry.what == "peel" and entry.row.press is None
            (loading.off_press if away else loading.on_press).append(entry)
        self.loose += [e for ld in grouped.values() if not ld.on_press for e in ld.off_press]
        whole = {number: loading for number, loading in grouped.items() if loading.on_press}
        for loading in whole.values():
            self._complete(loading)
        return whole

    def _complete(self, loading: Loading) -> None:
        loading.on_press.sort(key=_in_time)
        loading.line = next((self.line_of[p] for p in loading.pieces if p in self.line_of), None)
        loading.setting = self.set_at(loading.press, loading.start)
        row = next((e.row for e in loading.on_press if e.what == "dwell"), loading.first.row)
        if loading.setting is None and row.temperature is not None and row.pressure is not None:
            loading.setting = (row.temperature, row.pressure)
        loading.closings = _closings(loading)

    def blank(self, piece: str, loading: Loading) -> int:
        """Which blank of a piece lay in a loading: how many of them had been spoiled before."""
        return 0 if self.log is None else self.log.blank(piece, loading.start)

    def counts(self, piece: str) -> bool:
        """Whether a piece has to be whole by its rows: not where it is cancelled, or finished by the log's word."""
        line = self.line_of.get(piece)
        if self.log is None or line is None:
            return True
        return line.key not in self.log.cancelled and not self.log.finished(piece)

    def _closings_that_count(self) -> dict[str, list[Closing]]:
        """The closings of each piece's present blank, with those that are done by the log's word."""
        if self.log is None:
            return self.every_closing
        found: dict[str, list[Closing]] = {}
        told = {item.piece for item in self.log.continued.logged}
        for piece in {**self.every_closing, **dict.fromkeys(sorted(told))}:
            if not self.counts(piece):
                continue
            last = len(self.log.spoiled.get(piece, ()))
            mine = [c for c in self.every_closing.get(piece, []) if self.blank(piece, c.loading) == last]
            mine += [_told_closing(self.day.seconds(x.at), x) for x in self.log.by_word(piece)]
            if mine:
                found[piece] = sorted(mine, key=lambda c: (c.dwell.start, c.loading.number, c.number or 0))
        return found

    def _every_closing(self) -> dict[str, list[Closing]]:
        grouped: dict[str, list[Closing]] = {}
        for closing in self.closings():
            for piece in dict.fromkeys(closing.loading.pieces):
                grouped.setdefault(piece, []).append(closing)
        for closings in grouped.values():
            closings.sort(key=lambda c: (c.dwell.start, c.loading.number))
        return grouped


def _told_closing(at: int, item: Logged) -> Closing:
    """An operation of which no row tells."""
    row = Row(
        item.at,
        item.at,
        "dwell",
        pieces=(item.piece,),
        placement=item.placement,
        operation=item.operation,
        layers=item.layers,
    )
    entry = Entry(0, at, at, row)
    return Closing(Loading(0, [entry], []), entry, number=item.operation, layers=item.layers)


def _in_time(entry: Entry) -> tuple[int, int, float, int]:
    """Rows of no length at one moment follow the way work goes."""
    number = {"load": 0.0, "prepress": 0.0, "unload": 1e9}.get(entry.what, float(entry.row.operation or 0))
    return entry.start, entry.end, number, _RANK.get(entry.what, 9)


def _closings(loading: Loading) -> list[Closing]:
    closings: list[Closing] = []
    prepress: Entry | None = None
    align: Entry | None = None
    for entry in loading.on_press:
        if entry.what == "prepress":
            prepress = entry
        elif entry.what == "align":
            align = entry
        elif entry.what == "dwell":
            layers = tuple(entry.row.layers)
            closings.append(Closing(loading, entry, prepress, align, None, entry.row.operation, layers))
            prepress = align = None
        elif entry.what == "peel" and closings and closings[-1].peel is None:
            closings[-1].peel = entry
    for entry in loading.off_press:
        of = [c for c in closings if c.number == entry.row.operation] or closings[-1:]
        if of and of[-1].peel is None:
            of[-1].peel = entry
    return closings


def _sorted_by(entries: Sequence[Entry], key: Callable[[Entry], str | None]) -> dict[str, list[Entry]]:
    grouped: dict[str, list[Entry]] = {}
    for entry in entries:
        name = key(entry)
        if name is not None:
            grouped.setdefault(name, []).append(entry)
    for group in grouped.values():
        group.sort(key=lambda entry: (entry.start, entry.end, entry.line))
    return grouped
