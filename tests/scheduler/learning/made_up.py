"""Made-up days whose true hand times are known: real timetables, and lines of a log drawn from the truth alone.

The draws share no code with the simulation: every press has its own person, so its loadings follow each other and a
line's time is a running sum of hand rows and dwells.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from datetime import timedelta
from typing import Any

import numpy as np

from models.day import Day
from models.log import Entry
from models.plan import Row
from scheduler.timetable.dispatch import dispatch
from scheduler.timetable.rows import rows_of
from tests.scheduler.breakdown.days import PRESS, film, strip
from tests.scheduler.days import day as day_of
from tests.scheduler.days import instance_of, programmes

ROUGH = 0.25  # coefficient of variation of one hand row


def shop_day(
    pieces: int = 40, people: Sequence[Mapping[str, Any]] = ({"id": "ada"}, {"id": "ben"}), **shop: Any
) -> Day:
    """Lines of one, two and four layers with a hot peel; each person has a press of their own."""
    names = [f"press-{n}" for n in range(len(people))]
    layers = {1: [strip("f", 0)], 2: [strip("f", n) for n in range(2)], 4: [strip("f", n) for n in range(4)]}
    designs = {f"d{n}-{m}": {f"at{n}": layers[m]} for n in range(len(people)) for m in layers}
    return day_of(
        [film("f")],
        designs,
        [(name, pieces) for name in designs],
        presses=[{**PRESS, "id": name, "placements": [f"at{n}"]} for n, name in enumerate(names)],
        people=[{**who, "presses": [name]} for who, name in zip(people, names, strict=True)],
        hours={"open": "08:00", "close": "20:00"},
        **shop,
    )


def timetable(day: Day) -> list[Row]:
    """The rows of the day's first programme that works."""
    instance = instance_of(day)
    tables = (dispatch(instance, programme) for programme in programmes(instance))
    return rows_of(instance, next(t for t in tables if not t.unplaced and not t.broken))


def drawn_log(
    day: Day,
    rows: Sequence[Row],
    kinds: Mapping[str, float],
    paces: Mapping[str, float],
    seed: int,
    heat: float = 1.0,
    heat_spread: float = 0.0,
) -> list[Entry]:
    """A `done` line for each loading: hand rows are the written times, times the true factors, times a draw."""
    random = np.random.default_rng([seed, 23])
    s2 = np.log1p(ROUGH**2)
    by_press: dict[str, list[Row]] = defaultdict(list)
    for row in rows:
        assert row.press is not None, "a peel off the press would have to be drawn with its person's day"
        by_press[row.press].append(row)
    log = []
    for press, mine in by_press.items():
        at = 0.0
        for n, row in enumerate(mine):
            at = max(at, day.seconds(row.start)) if n == 0 else at
            if row.person is not None:
                factor = kinds.get(row.what, 1.0) * paces.get(row.person, 1.0)
                at += row.seconds * factor * float(np.exp(random.normal() * np.sqrt(s2) - s2 / 2))
            elif row.what == "change":
                at += row.seconds * heat * float(max(0.2, 1 + heat_spread * random.normal()))
            else:
                at += row.seconds
            if row.what == "unload":
                cells = {"at": day.start + timedelta(seconds=round(at)), "what": "done", "press": press}
                log.append(Entry.model_validate({**cells, "pieces": row.pieces}))
    return sorted(log, key=lambda entry: entry.at)
