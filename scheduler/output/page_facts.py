"""What the page says of a run, read off its rows and the day: nothing here is planned anew."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime

from models.day import Day
from models.order import OrderLine
from models.plan import Row
from scheduler.output.names import cut_words, is_personal, names_of
from scheduler.output.runs import Run

_MOST_NAMES = 12

Loadings = Mapping[int, Sequence[Row]]


def loadings_of(rows: Iterable[Row]) -> dict[int, list[Row]]:
    """The rows of each loading, off-press peels included, by start."""
    found: dict[int, list[Row]] = {}
    for row in sorted(rows, key=lambda r: (r.start, r.end)):
        if row.loading is not None:
            found.setdefault(row.loading, []).append(row)
    return found


def span_on_press(rows: Sequence[Row]) -> tuple[datetime, datetime]:
    """From the start of a loading's load to the end of its unload."""
    on_press = [row for row in rows if row.press is not None] or rows
    return min(row.start for row in on_press), max(row.end for row in on_press)


def stations_of(loadings: Loadings, stations: Mapping[str, int]) -> dict[int, int]:
    """Which lower platen each loading lies on, from 0: the first that is free, in order of loading."""
    free: dict[str, list[datetime]] = {press: [datetime.min] * count for press, count in stations.items()}
    found: dict[int, int] = {}
    spans = {number: span_on_press(rows) for number, rows in loadings.items()}
    for number in sorted(spans, key=lambda n: (spans[n][0], n)):
        start, end = spans[number]
        press = next((row.press for row in loadings[number] if row.press is not None), None)
        if press is None or press not in free:
            continue
        ends = free[press]
        station = next(
            (n for n, until in enumerate(ends) if until <= start), min(range(len(ends)), key=ends.__getitem__)
        )
        ends[station] = end
        found[number] = station
    return found


def setting(day: Day, temperature: int | None, pressure: str | None) -> str:
    """A setting as the shop says it: 315 °F · medium."""
    degrees = "" if temperature is None else f"{temperature} °{day.shop.units.temperature}"
    return " · ".join(part for part in (degrees, pressure or "") if part)


def line_of(day: Day, order: str | None, line: str | None) -> OrderLine | None:
    """The line of orders.csv, or None where the timetable holds work the folder no longer lists."""
    return next((ln for ln in day.lines if (ln.order, ln.line) == (order, line)), None)


def run_facts(day: Day, run: Run, loadings: Loadings) -> list[tuple[str, str]]:
    """What a run's hover says, as (word, words) pairs; the first has no word and is the headline."""
    line = line_of(day, run.order, run.line)
    rows = [row for number in run.numbers for row in loadings[number]]
    blank = " ".join(part for part in (line.garment, line.size) if part) if line else ""
    facts = [
        ("", f"Order {run.order}, line {run.line}"),
        ("customer", line.customer if line else ""),
        ("garment", blank),
        ("placement", f"{run.placement}, {_operations(run)}"),
        ("layers", _layers(day, run, line)),
        ("setting", setting(day, run.temperature, run.pressure)),
        ("prepress", _seconds(row.seconds for row in rows if row.what == "prepress")),
        ("dwell", _seconds(row.seconds for row in rows if row.what == "dwell")),
        ("pieces", f"{run.pieces} in {run.loadings} loading{'s' if run.loadings > 1 else ''}"),
        ("names", _names(day, run, line, rows)),
        ("people", ", ".join(run.people)),
        ("peel", _peel(day, run, line, [loadings[number] for number in run.numbers])),
        ("press", run.press),
        ("time", f"{run.start:%H:%M:%S} to {run.end:%H:%M:%S}"),
    ]
    return [(word, words) for word, words in facts if words]


def films_of(day: Day, line: OrderLine | None, placement: str, layers: Iterable[int]) -> list[tuple[int, str]]:
    """The layers' numbers with the films they are cut from."""
    places = day.design[line.design].placement if line and line.design in day.design else ()
    place = next((p for p in places if p.at == placement), None)
    return [(n, place.layer[n - 1].film) for n in layers if place is not None and 0 < n <= len(place.layer)]


def _operations(run: Run) -> str:
    numbers = ", ".join(str(number) for number in run.operations)
    word = "operation" if len(run.operations) == 1 else "operations"
    return f"{word} {numbers}" + (" (repress)" if run.repress else "")


def _layers(day: Day, run: Run, line: OrderLine | None) -> str:
    return ", ".join(f"{number} {film}" for number, film in films_of(day, line, run.placement, run.layers))


def _names(day: Day, run: Run, line: OrderLine | None, rows: Sequence[Row]) -> str:
    """The first names that the run lays, in its order, and how many more there are."""
    if not is_personal(day, line, run.placement, run.layers):
        return ""
    names = names_of(day)
    pieces = dict.fromkeys(piece for row in rows for piece in row.pieces)
    said = [cut_words(names[piece]) for piece in pieces if piece in names]
    more = [f"and {len(said) - _MOST_NAMES} more"] if len(said) > _MOST_NAMES else []
    return ", ".join([*said[:_MOST_NAMES], *more])


def _seconds(lengths: Iterable[int]) -> str:
    """15 s, or 15 to 18 s where they differ; nothing where there are none."""
    found = sorted(set(lengths))
    if not found:
        return ""
    return f"{found[0]} s" if len(found) == 1 else f"{found[0]} to {found[-1]} s"


def _peel(day: Day, run: Run, line: OrderLine | None, loadings: Iterable[Sequence[Row]]) -> str:
    """The films' peel, and how long after the opening the plan peels."""
    waits = [wait for rows in loadings for wait in peel_waits(rows)]
    if not waits:
        return ""
    films = [day.films[film] for _, film in films_of(day, line, run.placement, run.layers) if film in day.films]
    kinds = " and ".join(dict.fromkeys(film.peel for film in films))
    return f"{kinds} {run.peel}, {_seconds(waits)} after opening".strip()


def peel_waits(rows: Sequence[Row]) -> list[int]:
    """Seconds from each opening to the peel that follows it, for one loading."""
    opened: dict[int | None, datetime] = {row.operation: row.end for row in rows if row.what == "dwell"}
    return [
        round((row.start - opened[row.operation]).total_seconds())
        for row in rows
        if row.what == "peel" and row.operation in opened
    ]
