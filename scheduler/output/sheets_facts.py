"""What the sheets say of a stretch of work, read off the rows, the routes and the day: nothing is planned anew."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from functools import cached_property

from models.catalog import Film
from models.day import Day
from models.design import Placement
from models.operation import Operation, Route
from models.order import NameRow, OrderLine
from models.plan import Plan, Row
from models.units import Window
from scheduler import calendar
from scheduler.output.files import plan_json
from scheduler.output.names import is_personal, names_of
from scheduler.output.page_facts import films_of, loadings_of, span_on_press
from scheduler.output.runs import Run, runs_of

Routes = Mapping[tuple[str, str], Sequence[Route]]

DOWN = "the press is down"
ABSENT = "absent"


@dataclass(frozen=True, slots=True)
class Step:
    """One operation within a run. `dwell` and `prepress` are the shortest and longest of its loadings, seconds.

    `dwell` is None where the press went down before it closed. `peel` is the kind with the seconds after the opening
    in which it may start; None where nothing is peeled.
    """

    number: int
    films: tuple[tuple[int, str], ...]
    dwell: tuple[int, int] | None
    prepress: tuple[int, int] | None
    peel: tuple[str, Window] | None
    on_press: bool
    cover_sheet: bool


@dataclass(frozen=True, slots=True)
class Next:
    """Where pieces go after a run: None for `press` where they are done; no `layers`: to be pressed again."""

    pieces: int
    press: str | None = None
    placement: str = ""
    layers: tuple[int, ...] = ()
    start: datetime | None = None


def plan_mark(plan: Plan) -> str:
    """The first letters of the plan's sha256."""
    return hashlib.sha256(plan_json(plan).encode()).hexdigest()[:6]


@dataclass(frozen=True)
class Work:
    """A plan with all that its sheets look up. `notes` are warnings that stand on every sheet."""

    day: Day
    plan: Plan
    rows: Sequence[Row]
    routes: Routes
    notes: tuple[str, ...] = ()

    @cached_property
    def mark(self) -> str:
        """Tells one plan's sheets and ticks from another's."""
        return plan_mark(self.plan)

    @cached_property
    def loadings(self) -> dict[int, list[Row]]:
        """The rows of each loading by start."""
        return loadings_of(self.rows)

    @cached_property
    def runs(self) -> list[Run]:
        """The runs by start, parted where the shop has a break or the press is away, so that a line's time holds."""
        parts = [part for run in runs_of(self.rows) for part in self._parted(run)]
        return sorted(parts, key=lambda run: (run.start, run.press))

    @cached_property
    def names(self) -> dict[str, NameRow]:
        """What is cut for each personalised piece, by the piece's name."""
        return names_of(self.day)

    @cached_property
    def lines(self) -> dict[tuple[str, str], OrderLine]:
        """Lines of orders by (order, line)."""
        return {line.key: line for line in self.day.lines}

    @cached_property
    def _ways(self) -> dict[str, list[int]]:
        """The loadings each piece goes through, in time order."""
        found: dict[str, list[int]] = {}
        for number in sorted(self.loadings, key=lambda n: span_on_press(self.loadings[n])):
            for piece in self.pieces(number):
                found.setdefault(piece, []).append(number)
        return found

    @cached_property
    def _laid(self) -> dict[tuple[str | None, str | None, str | None], dict[int, tuple[int, ...]]]:
        """(order, line, placement) -> operation -> layers."""
        found: dict[tuple[str | None, str | None, str | None], dict[int, tuple[int, ...]]] = {}
        for row in self.rows:
            if row.what == "dwell" and row.operation is not None:
                found.setdefault((row.order, row.line, row.placement), {})[row.operation] = row.layers
        return found

    @cached_property
    def _run_of(self) -> dict[int, Run]:
        return {number: run for run in self.runs for number in run.numbers}

    def run_of(self, loading: int) -> Run:
        """The run that a loading stands in."""
        return self._run_of[loading]

    def pieces(self, loading: int) -> tuple[str, ...]:
        """The pieces of a loading."""
        return tuple(dict.fromkeys(piece for row in self.loadings[loading] for piece in row.pieces))

    def line(self, run: Run) -> OrderLine | None:
        """The line of the orders, None where the folder no longer has it."""
        return self.lines.get((run.order, run.line))

    def placement(self, run: Run) -> Placement | None:
        """The placement as designed, None where the folder no longer has it."""
        line = self.line(run)
        places = self.day.design[line.design].placement if line and line.design in self.day.design else ()
        return next((place for place in places if place.at == run.placement), None)

    def before(self, run: Run) -> tuple[int, ...]:
        """Layers that lie on the placement when the run begins."""
        laid = self._laid.get((run.order, run.line, run.placement), {})
        return tuple(n for operation, layers in laid.items() if operation < min(run.operations) for n in layers)

    def personal(self, run: Run) -> bool:
        """Whether a layer of the run has its own cut for each piece."""
        return is_personal(self.day, self.line(run), run.placement, run.layers)

    def steps(self, run: Run) -> list[Step]:
        """The run's operations in the order they are pressed."""
        rows = [row for number in run.numbers for row in self.loadings[number]]
        return [self._step(run, number, [row for row in rows if row.operation == number]) for number in run.operations]

    def next(self, run: Run) -> list[Next]:
        """Where the run's pieces go, the soonest first; those that are done last."""
        groups: dict[tuple[str, str, tuple[int, ...]] | None, list[datetime]] = {}
        for number in run.numbers:
            for piece in self.pieces(number):
                way = self._ways[piece]
                later = way[way.index(number) + 1 :]
                after = self._run_of[later[0]] if later else None
                key = (after.press, after.placement, after.layers) if after else None
                start = span_on_press(self.loadings[later[0]])[0] if later else datetime.max
                groups.setdefault(key, []).append(start)
        ordered = sorted(groups.items(), key=lambda item: min(item[1]))
        return [
            Next(len(starts)) if key is None else Next(len(starts), *key, start=min(starts)) for key, starts in ordered
        ]

    def pauses(self, press: str) -> list[tuple[datetime, datetime, str]]:
        """(start, end, words) of the shop's breaks and of the times the press is away, on the dates it works.

        And of the times it is down; where nobody knows until when, `end` is the last moment there is.
        """
        return self._pauses.get(press, [])

    @cached_property
    def _pauses(self) -> dict[str, list[tuple[datetime, datetime, str]]]:
        dates: dict[str, set[date]] = {press: set() for press in self.day.down}
        for row in self.rows:
            if row.press is not None:
                dates.setdefault(row.press, set()).add(row.start.date())
        breaks = [(a, b, "break of the shop") for a, b in calendar.shop_breaks(self.day)]
        found = {}
        for press, own in dates.items():
            away = [(a, b, "the press is away") for a, b in self._away(press)]
            spans = [(self.day.at(a), self.day.at(b), words) for a, b, words in (*breaks, *away)]
            down = [(start, end or datetime.max, DOWN) for start, end in self.day.down.get(press, ())]
            found[press] = sorted([*(span for span in spans if {span[0].date(), span[1].date()} & own), *down])
        return found

    def _away(self, press: str) -> calendar.Spans:
        """When it is away by shop.toml; the folder may have changed since the plan was made."""
        if press not in self.day.presses:
            return ()
        down = [(self.day.seconds(a), self.day.seconds(b or datetime.max)) for a, b in self.day.down.get(press, ())]
        return calendar.without(calendar.away_spans(self.day, press), down)

    def _parted(self, run: Run) -> list[Run]:
        pauses = self.pauses(run.press)
        groups: dict[int, list[int]] = {}
        for number in run.numbers:
            start = span_on_press(self.loadings[number])[0]
            groups.setdefault(sum(1 for _, end, _ in pauses if end <= start), []).append(number)
        if len(groups) == 1:
            return [run]
        return [part for numbers in groups.values() for part in runs_of(r for n in numbers for r in self.loadings[n])]

    def _step(self, run: Run, number: int, rows: Sequence[Row]) -> Step:
        layers = tuple(dict.fromkeys(layer for row in rows for layer in row.layers))
        films = tuple(films_of(self.day, self.line(run), run.placement, layers))
        operation = self._operation(run, number, layers)
        peels = [row for row in rows if row.what == "peel"]
        return Step(
            number=number,
            films=films,
            dwell=_span(row.seconds for row in rows if row.what == "dwell"),
            prepress=_span(row.seconds for row in rows if row.what == "prepress"),
            peel=self._peel(run, operation) if peels else None,
            on_press=any(row.press is not None for row in peels),
            cover_sheet=operation.cover_sheet if operation else self._covered(films),
        )

    def _operation(self, run: Run, number: int, layers: tuple[int, ...]) -> Operation | None:
        """The operation as broken down; every legal route has the same ones, in another order."""
        line = self.line(run)
        ways = self.routes.get((line.garment, line.design), ()) if line else ()
        fitting = (
            op
            for way in ways
            for op in way.operations
            if (op.placement, op.number, op.layers) == (run.placement, number, layers)
        )
        return next(fitting, None)

    def _peel(self, run: Run, operation: Operation | None) -> tuple[str, Window] | None:
        if operation is None or operation.peel is None:
            return None
        window = operation.peel_window(run.temperature, self.day.shop.room_temperature)
        return None if window is None else (operation.peel, window)

    def _covered(self, films: Iterable[tuple[int, str]]) -> bool:
        known: list[Film] = [self.day.films[film] for _, film in films if film in self.day.films]
        return any(film.cover_sheet for film in known)


def _span(lengths: Iterable[int]) -> tuple[int, int] | None:
    found = sorted(set(lengths))
    return (found[0], found[-1]) if found else None
