"""Days for measuring: seeded, of any size, with the ordinary films of the trade and a shop of mixed presses.

Films take their settings from ordinary ones (common practice, never truth); names are invented. A day is made
as plain tables first, so that it can be held as a Day or written as a day folder that the intake reads back.
"""

from __future__ import annotations

import csv
import json
import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from models.catalog import Catalog
from models.day import Day
from models.design import Designs
from models.operation import Route
from models.order import OrderLine
from models.shop import Shop
from scheduler import calendar
from scheduler.breakdown import break_down
from tests.bench.stock import FILMS, GARMENTS, PEOPLE, PRESSES, designs_of

Table = dict[str, Any]

START = datetime(2026, 12, 1, 8)  # a Tuesday
CLOSINGS = 1.6  # closings a piece, on average
SLOWNESS = 1.1  # presses and people wait for each other, and presses change: the time a fair turn takes, over its work


@dataclass(frozen=True)
class Size:
    """What a day is made of. `tight`: the share of orders whose due time is no later than a fair turn gives them;
    `arrives`: how much of the time before its turn a held order's garments are awaited."""

    pieces: int
    presses: int
    people: int
    orders: int
    designs: int
    tight: float = 0.3
    undated: float = 0.2
    late_ready: float = 0.2
    arrives: float = 0.4
    hours: tuple[str, str] = ("08:00", "17:00")
    breaks: tuple[tuple[str, str], ...] = (("10:00", "10:15"), ("12:00", "12:30"))
    closed: tuple[str, ...] = ("sun",)


NAMED: Mapping[str, Size] = {
    "d60": Size(60, 2, 2, 5, 5),
    "d250": Size(250, 2, 2, 12, 8),
    "d500": Size(500, 2, 1, 16, 10, hours=("08:00", "18:00")),
    "d1200": Size(1200, 4, 3, 30, 16, tight=0.34),
    "d5000": Size(
        5000, 8, 8, 70, 28, arrives=0.9, hours=("08:00", "13:00"), breaks=(("10:00", "10:20"),), closed=("thu", "sun")
    ),
}
WEEK = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")


@dataclass(frozen=True)
class Made:
    """A generated day: the Day, and the tables it was made of."""

    day: Day
    shop: Table
    catalog: Table
    designs: Table

    def write(self, folder: Path) -> None:
        """Write it as a day folder."""
        folder.mkdir(parents=True, exist_ok=True)
        for name, table in (("shop", self.shop), ("catalog", self.catalog), ("designs", self.designs)):
            (folder / f"{name}.toml").write_text("\n".join(_toml(table)) + "\n", encoding="utf-8")
        fields = ("order", "customer", "line", "garment", "size", "quantity", "design", "ready", "due", "priority")
        with (folder / "orders.csv").open("w", newline="", encoding="utf-8") as file:
            rows = csv.writer(file)
            rows.writerow(fields)
            rows.writerows([_cell(getattr(line, field)) for field in fields] for line in self.day.lines)


def named(name: str, seed: int = 0) -> Made:
    """One of the named days; the same seed gives the same day."""
    return make(NAMED[name], seed)


def make(size: Size, seed: int = 0) -> Made:
    """A sound day of this size."""
    rng = random.Random(seed * 1009 + size.pieces)
    shop, catalog = _shop(size, rng), {"film": FILMS, "garment": GARMENTS}
    kinds = designs_of(size.designs, rng)
    designs = {"design": [table for table, _ in kinds]}
    bare = Day(
        shop=Shop.model_validate(shop),
        catalog=Catalog.model_validate(catalog),
        designs=Designs.model_validate(designs),
        lines=tuple(_sample(table["id"], garment) for table, suits in kinds for garment in suits),
        start=START,
    )
    ways = {pair: routes[0] for pair, routes in break_down(bare).items()}
    lines = _lines(size, {pair: len(way.operations) for pair, way in ways.items()}, rng)
    turns = {pair: _turn(size, way) for pair, way in ways.items()}
    day = replace(bare, lines=tuple(_promise(size, replace(bare, lines=tuple(lines)), turns, rng)))
    return Made(day, shop, catalog, designs)


def _sample(design: str, garment: str) -> OrderLine:
    return OrderLine(order=f"{design} on {garment}", line="1", garment=garment, quantity=1, design=design)


def _shop(size: Size, rng: random.Random) -> Table:
    presses = [PRESSES[n % len(PRESSES)] | {"id": f"press-{n + 1}"} for n in range(size.presses)]
    people = [PEOPLE[n % len(PEOPLE)] | {"id": f"hand-{n + 1}"} for n in range(size.people)]
    if size.people > 2:
        people[-1] = people[-1] | {"presses": [p["id"] for p in presses[: -(-size.presses // 2)]]}
    return {
        "name": f"Measure {rng.randrange(1000)}",
        "start": START.isoformat(timespec="minutes"),
        "units": {"temperature": "F", "length": "in"},
        "hours": {
            "open": size.hours[0],
            "close": size.hours[1],
            "days": [d for d in WEEK if d not in size.closed],
            "breaks": [list(b) for b in size.breaks],
        },
        "room": {"temperature": 70},
        "hands": {"load_s": 8, "align_s": 8, "unload_s": 3, "peel_s": 3},
        "rules": {"late_open_s": 4, "rack": 20 * size.presses},
        "press": presses,
        "person": people,
    }


def _lines(size: Size, closings: Mapping[tuple[str, str], int], rng: random.Random) -> list[OrderLine]:
    """Lines that add up to the pieces, drawn so that a piece has about CLOSINGS closings."""
    pairs, pressed, placed = list(closings), 0, 0
    lines: list[OrderLine] = []
    for number, pieces in enumerate(_shares(size.pieces, size.orders, rng), 1):
        parts = _shares(pieces, 1 if pieces < 8 else rng.choice((1, 1, 2, 3)), rng)
        for line, quantity in enumerate(parts, 1):
            drawn = rng.sample(pairs, min(4, len(pairs)))
            garment, design = min(
                drawn, key=lambda pair: abs((pressed + closings[pair] * quantity) / (placed + quantity) - CLOSINGS)
            )
            pressed, placed = pressed + closings[garment, design] * quantity, placed + quantity
            lines.append(
                OrderLine(
                    order=str(100 + number),
                    customer=f"Customer {number}",
                    line=str(line),
                    garment=garment,
                    size=rng.choice(("S", "M", "L", "XL")),
                    quantity=quantity,
                    design=design,
                )
            )
    return lines


def _shares(total: int, count: int, rng: random.Random) -> list[int]:
    """Uneven parts that add up to the total, at least one each."""
    weights = [rng.lognormvariate(0, 0.6) for _ in range(count)]
    parts = [max(1, int(total * w / sum(weights))) for w in weights]
    while sum(parts) != total:
        at = rng.randrange(count)
        step = 1 if sum(parts) < total else -1
        if parts[at] + step >= 1:
            parts[at] += step
    return parts


def _turn(size: Size, way: Route) -> float:
    """Seconds of the shop's day one piece takes up, by hands or by presses, whichever are scarcer."""
    hands = sum(way.load_s + way.unload_s + op.align_s + op.peel_s for op in way.operations)
    closed = sum(op.dwell.lo + (op.prepress.lo if op.prepress else 0) - op.peel_s for op in way.operations)
    return SLOWNESS * max(hands / size.people, (hands + closed) / size.presses)


def _promise(size: Size, day: Day, turns: Mapping[tuple[str, str], float], rng: random.Random) -> list[OrderLine]:
    """The lines with ready and due times: orders take fair turns in a drawn order, and are promised around them."""
    windows = calendar.shop_windows(day)
    turn = list(day.orders.values())
    rng.shuffle(turn)
    given: dict[str, Table] = {}
    passed = 1200.0
    for order in turn:
        begins = passed
        passed += sum(ln.quantity * turns[ln.garment, ln.design] for ln in order.lines)
        mark = rng.random()
        slack = rng.uniform(0.7, 1.0) if mark < size.tight else rng.uniform(1.3, 2.5)
        due = None if mark > 1 - size.undated else _moment(day, windows, passed * slack)
        held = rng.random() < size.late_ready or order is turn[-1]
        ready = _moment(day, windows, begins * size.arrives) if held else None
        given[order.id] = {"due": due, "ready": ready, "priority": rng.choice((1.0, 1.0, 1.0, 2.0))}
    return [line.model_copy(update=given[line.order]) for line in day.lines]


def _moment(day: Day, windows: calendar.Spans, seconds: float) -> datetime:
    """The moment by which so much working time has passed, rounded up to a quarter of an hour."""
    reached = calendar.reach(windows, int(seconds))
    assert reached is not None
    return day.start + timedelta(seconds=-(-reached // 900) * 900)


def _cell(value: Any) -> Any:
    if isinstance(value, datetime):
        return value.isoformat(timespec="minutes")
    return "" if value is None else value


def _toml(table: Mapping[str, Any], path: Sequence[str] = ()) -> list[str]:
    """A table as TOML lines: plain values first, then tables, then arrays of tables."""
    plain = {k: v for k, v in table.items() if not isinstance(v, dict) and not _tables(v)}
    lines = [f"{key} = {json.dumps(value)}" for key, value in plain.items()]
    for key, value in table.items():
        name = ".".join((*path, key))
        if isinstance(value, dict):
            lines += ["", f"[{name}]", *_toml(value, (*path, key))]
        elif _tables(value):
            for item in value:
                lines += ["", f"[[{name}]]", *_toml(item, (*path, key))]
    return lines


def _tables(value: Any) -> bool:
    return isinstance(value, (list, tuple)) and bool(value) and isinstance(value[0], dict)
