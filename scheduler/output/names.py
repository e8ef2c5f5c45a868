"""Whose piece is whose: what is cut for each personalised piece, and where it is pressed."""

from __future__ import annotations

from collections.abc import Collection

from models.day import Day
from models.order import NameRow, OrderLine


def names_of(day: Day) -> dict[str, NameRow]:
    """What is cut for each personalised piece, by the piece's name."""
    lines = {line.key: line for line in day.lines}
    rows = ((lines.get((row.order, row.line)), row) for row in day.names)
    return {line.piece(row.piece): row for line, row in rows if line is not None}


def cut_words(row: NameRow) -> str:
    """The name and number as they are cut: OKAFOR 4."""
    return " ".join(part for part in (row.name, row.number) if part)


def is_personal(day: Day, line: OrderLine | None, placement: str, layers: Collection[int]) -> bool:
    """Whether one of these layers has its own cut for each piece."""
    places = day.design[line.design].placement if line is not None and line.design in day.design else ()
    found = (place.layer for place in places if place.at == placement)
    return any(layer.personal for all_layers in found for n, layer in enumerate(all_layers, 1) if n in layers)
