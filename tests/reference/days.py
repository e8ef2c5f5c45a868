"""Published instances put as days: an operation is one loading, its time is the dwell, hands take no time.

One person stands at each press, so that hands are never short; presses begin at the one temperature in use.
"""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path
from typing import Any

from models.day import Day
from tests.scheduler.breakdown.days import PRESS, Table, film, pile
from tests.scheduler.days import START, Ordered, day

DATA = Path(__file__).parent / "data"
NO_HANDS = {"load_s": 0, "align_s": 0, "unload_s": 0, "peel_s": 0}
ROUND_THE_CLOCK = {"open": "00:00", "close": "24:00"}


def _shop(films: Sequence[Table], designs: Mapping[str, Any], orders: Sequence[Ordered], presses: list[Table]) -> Day:
    return day(
        films,
        designs,
        orders,
        presses=presses,
        people=[{"id": f"at-{press['id']}", "presses": [press["id"]]} for press in presses],
        hands=NO_HANDS,
        hours=ROUND_THE_CLOCK,
        rules={"late_open_s": 0},
    )


def _press(name: str, **given: Any) -> Table:
    return {**PRESS, "id": name, "at_start": 310, **given}


def machines(seconds: Sequence[int], count: int, orders: Sequence[Mapping[str, Any]] = ()) -> Day:
    """Independent jobs on identical machines: one order of one piece each, with further fields where given."""
    films = [film(f"f{n}", dwell_s=[p, p]) for n, p in enumerate(seconds)]
    designs = {f"d{n}": {"front": [pile(f"f{n}")]} for n in range(len(seconds))}
    lines: list[Ordered] = [(f"d{n}", 1, orders[n] if orders else {}) for n in range(len(seconds))]
    return _shop(films, designs, lines, [_press(f"m{k}") for k in range(count)])


def job_shop(machine: Sequence[Sequence[int]], minutes: Sequence[Sequence[int]]) -> Day:
    """A job shop that visits every machine once: a machine is a press that takes one placement only.

    A film that stands k later pressings, and no more, comes before the last k: that is each job's order.
    """
    films, designs = [], {}
    for job, (visits, times) in enumerate(zip(machine, minutes, strict=True)):
        places = {}
        for step, (m, p) in enumerate(zip(visits, times, strict=True)):
            name = f"j{job}s{step}"
            films.append(film(name, dwell_s=[60 * p, 60 * p], reheats=len(visits) - 1 - step))
            places[f"at-{m}"] = [pile(name)]
        designs[f"job{job}"] = places
    presses = [_press(f"m{m}", placements=[f"at-{m}"]) for m in range(len(machine[0]))]
    return _shop(films, designs, [(name, 1) for name in designs], presses)


def flexible_shop(eligible: Sequence[Sequence[Sequence[int]]], minutes: Sequence[Sequence[int]], count: int) -> Day:
    """A flexible job shop whose times are the same on every machine: a step has a placement that some presses take.

    A job may come back to a machine. Films that stand so many later pressings and no more force each job's order.
    """
    films, designs = [], {}
    takes: list[list[str]] = [[] for _ in range(count)]
    for job, (choices, times) in enumerate(zip(eligible, minutes, strict=True)):
        places = {}
        for step, (machines_, p) in enumerate(zip(choices, times, strict=True)):
            name = f"j{job}s{step}"
            films.append(film(name, dwell_s=[60 * p, 60 * p], reheats=len(times) - 1 - step))
            places[name] = [pile(name)]
            for m in machines_:
                takes[m].append(name)
        designs[f"job{job}"] = places
    presses = [_press(f"m{m}", placements=names) for m, names in enumerate(takes)]
    return _shop(films, designs, [(name, 1) for name in designs], presses)


@dataclass(frozen=True)
class Tardiness:
    """One instance of wt40 with its value from wtopt40.txt."""

    number: int
    seconds: tuple[int, ...]
    weights: tuple[int, ...]
    due: tuple[int, ...]
    value: int

    def day(self) -> Day:
        """One press, an order a job; a time unit is a second."""
        fields = [
            {"priority": w, "due": START + timedelta(seconds=d)} for w, d in zip(self.weights, self.due, strict=True)
        ]
        return machines(self.seconds, 1, fields)


def wt40() -> list[Tardiness]:
    """All 125 instances, numbered from 1."""
    numbers = [int(word) for word in (DATA / "wt40/wt40.txt").read_text().split()]
    values = [int(word) for word in (DATA / "wt40/wtopt40.txt").read_text().split()]
    found = []
    for n, value in enumerate(values):
        p, w, d = (tuple(numbers[120 * n + 40 * k : 120 * n + 40 * k + 40]) for k in range(3))
        found.append(Tardiness(n + 1, p, w, d, value))
    return found


def shop_instance(name: str) -> tuple[list[list[int]], list[list[int]], int]:
    """(machines, minutes, optimum) of a job shop of jsp.json."""
    entry = json.loads((DATA / "shop_small/jsp.json").read_text())[name]
    return entry["machines_matrix"], entry["duration_matrix"], entry["metadata"]["optimum"]
