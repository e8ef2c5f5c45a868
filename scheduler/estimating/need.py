"""What new lines take: hands, presses, and film on the roll."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from models.catalog import Film
from models.day import Day
from models.design import Layer
from models.order import OrderLine
from models.plan import HAND_ROWS, Row

ASSUMED = (
    "Film: each layer takes the rectangle around its art, without its carrier's margin, weeding or spoiled cuts. "
    "By area: as if nothing were lost beside the rectangles. In rows: like rectangles side by side across the roll, "
    "whichever way round is shorter."
)


@dataclass(frozen=True)
class FilmNeed:
    """Film of one kind: cuts and their area (length unit squared). Lengths along the roll, None where catalog.toml
    gives no roll or the art does not fit across it."""

    film: str
    cuts: int
    area: float
    roll_width: float | None
    by_area: float | None
    in_rows: float | None


@dataclass(frozen=True)
class Need:
    """Person-minutes (hand rows), minutes on each press (from load to unload, per platen), and film."""

    labour_min: float
    press_min: Mapping[str, float]
    film: tuple[FilmNeed, ...]


def need_of(day: Day, lines: Sequence[OrderLine], rows: Iterable[Row]) -> Need:
    """What these lines take in a plan's rows."""
    mine = {line.key for line in lines}
    hands = 0
    spans: dict[int, list[Row]] = {}
    for row in rows:
        if row.loading is not None and (row.order, row.line) in mine:
            hands += row.seconds if row.what in HAND_ROWS else 0
            if row.press is not None:
                spans.setdefault(row.loading, []).append(row)
    presses: dict[str, float] = {}
    for of in spans.values():
        seconds = (max(r.end for r in of) - min(r.start for r in of)).total_seconds()
        press = of[0].press or ""
        presses[press] = presses.get(press, 0.0) + seconds
    in_order = {press: round(presses[press] / 60, 2) for press in day.presses if press in presses}
    return Need(round(hands / 60, 2), in_order, film_of(day, lines))


def film_of(day: Day, lines: Sequence[OrderLine]) -> tuple[FilmNeed, ...]:
    """The film the lines take, by film in the order of catalog.toml."""
    cuts: dict[str, list[tuple[float, float, int]]] = {}
    for line in lines:
        for place in day.design[line.design].placement:
            for layer in place.layer:
                cuts.setdefault(layer.film, []).append((*_extent(layer), line.quantity))
    return tuple(_film(film, cuts[name]) for name, film in day.films.items() if name in cuts)


def _film(film: Film, cuts: Sequence[tuple[float, float, int]]) -> FilmNeed:
    area = sum(width * height * count for width, height, count in cuts)
    number = sum(count for _, _, count in cuts)
    if film.roll is None:
        return FilmNeed(film.id, number, round(area, 2), None, None, None)
    across = film.roll[0]
    rows = [_rows(width, height, count, across) for width, height, count in cuts]
    whole = None if any(length is None for length in rows) else round(sum(length or 0.0 for length in rows), 2)
    return FilmNeed(film.id, number, round(area, 2), across, round(area / across, 2), whole)


def _rows(width: float, height: float, count: int, across: float) -> float | None:
    """The length of like rectangles laid side by side in rows, the shorter way round; None where none fits across."""
    ways = [
        math.ceil(count / math.floor(across / w + 1e-9)) * h
        for w, h in ((width, height), (height, width))
        if w <= across
    ]
    return min(ways, default=None)


def _extent(layer: Layer) -> tuple[float, float]:
    """Width and height of the rectangle around the art."""
    if layer.box is not None:
        return layer.box[2], layer.box[3]
    assert layer.outline is not None
    xs, ys = [x for x, _ in layer.outline], [y for _, y in layer.outline]
    return max(xs) - min(xs), max(ys) - min(ys)
