"""People's busy stretches: hand rows that follow each other closely, taken together."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta

from models.plan import Row

_PAUSE = timedelta(seconds=120)  # a longer wait than this ends a stretch

Stretch = tuple[int, datetime, datetime, int, tuple[str, ...]]


def stretches(rows: Sequence[Row], people: Sequence[str]) -> Iterator[Stretch]:
    """(person's number, start, end, busy seconds, orders) of every stretch, person by person."""
    for number, person in enumerate(people):
        group: list[Row] = []
        for row in sorted((r for r in rows if r.person == person), key=lambda r: (r.start, r.end)):
            if group and row.start - group[-1].end > _PAUSE:
                yield _stretch(number, group)
                group = []
            group.append(row)
        if group:
            yield _stretch(number, group)


def _stretch(number: int, group: Sequence[Row]) -> Stretch:
    orders = tuple(dict.fromkeys(row.order for row in group if row.order is not None))
    return number, group[0].start, group[-1].end, sum(row.seconds for row in group), orders
