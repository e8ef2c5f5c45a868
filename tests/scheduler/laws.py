"""Little days in plain tables, and ways to write the same day differently or to give it more."""

from __future__ import annotations

import random
from collections.abc import Mapping
from copy import deepcopy
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from models.catalog import Catalog
from models.day import Day
from models.design import Designs
from models.order import OrderLine
from models.shop import Shop

START = datetime(2026, 12, 1, 8)
Table = dict[str, Any]


@dataclass
class Written:
    """A day as somebody writes it down: tables, and the moment planning begins."""

    shop: Table
    films: list[Table]
    garments: list[Table]
    designs: list[Table]
    lines: list[Table]
    start: datetime = START

    def day(self) -> Day:
        """The same as a Day."""
        return Day(
            shop=Shop.model_validate(self.shop),
            catalog=Catalog.model_validate({"film": self.films, "garment": self.garments}),
            designs=Designs.model_validate({"design": self.designs}),
            lines=tuple(OrderLine.model_validate(line) for line in self.lines),
            start=self.start,
        )

    def copy(self) -> Written:
        """One that may be changed."""
        return deepcopy(self)


def drawn(seed: int) -> Written:
    """Up to five pieces of one to three designs on one or two presses, by one or two people.

    Temperatures and rates are multiples of nine or eighteen, so that they are whole degrees in Celsius too.
    """
    rng = random.Random(seed)
    films = [
        {
            "id": f"film-{n}",
            "temperature": [302 + 9 * lo, 302 + 9 * (lo + rng.randint(0, 2))],
            "dwell_s": rng.choice([[10, 15], 12, [60, 60]]),
            "peel": rng.choice(["hot", "warm"]),
            "carrier": rng.choice([0, 0.5]),
        }
        for n in range(rng.randint(1, 3))
        for lo in [rng.randint(0, 2)]
    ]
    designs = [{"id": f"design-{n}", "placement": [_place(rng, films)]} for n in range(rng.randint(1, 3))]
    lines = [_line(rng, n, designs) for n in range(rng.randint(2, 4))]
    presses = [_press(rng, n) for n in range(rng.randint(1, 2))]
    people = [{"id": f"who-{n}", "pace": 1.0} for n in range(rng.randint(1, 2))]
    shop = {
        "units": {"temperature": "F", "length": "in"},
        "room": {"temperature": 68},
        "hours": {"open": "08:00", "close": "17:00", "breaks": [["12:00", "12:30"]]},
        "press": presses,
        "person": people,
    }
    return Written(shop, films, [{"id": "tee", "max_temperature": 392}], designs, lines)


def _place(rng: random.Random, films: list[Table]) -> Table:
    boxes = [[0, 0, 4, 4], [rng.choice([1, 6]), 0, 4, 4]][: rng.randint(1, 2)]
    return {"at": "front", "layer": [{"film": rng.choice(films)["id"], "box": box} for box in boxes]}


def _line(rng: random.Random, number: int, designs: list[Table]) -> Table:
    given: Table = {"order": f"order-{number}", "line": "1", "garment": "tee", "quantity": rng.choice([1, 1, 2])}
    given["design"] = rng.choice(designs)["id"]
    if rng.random() < 0.6:
        given["due"] = START + timedelta(minutes=rng.choice([3, 12, 20]))
        given["priority"] = rng.choice([1, 2])
    return given


def _press(rng: random.Random, number: int) -> Table:
    return {
        "id": f"press-{number}",
        "platen": [16, 20],
        "temperature": [212, 428],
        "heat_up": rng.choice([18, 36]),
        "cool_down": rng.choice([9, 18]),
        "settle_s": rng.choice([0, 30]),
        "at_start": rng.choice([68, 302, 320]),
    }


def renamed(given: Written) -> Written:
    """Every name another one, which sorts the other way round."""
    made = given.copy()
    names: dict[str, str] = {}

    def new(name: str) -> str:
        return names.setdefault(name, f"{'zyxwvutsrq'[len(names) % 10]}{99 - len(names)} {name[::-1]}")

    for table in (*made.films, *made.garments, *made.designs, *made.shop["press"], *made.shop["person"]):
        table["id"] = new(table["id"])
    for design in made.designs:
        for place in design["placement"]:
            place["at"] = new(place["at"])
            for layer in place["layer"]:
                layer["film"] = new(layer["film"])
    for line in made.lines:
        line.update({key: new(line[key]) for key in ("order", "garment", "design")})
    return made


def reordered(given: Written) -> Written:
    """Every list of tables from the last to the first; layers and placements keep their order, it means something."""
    made = given.copy()
    for tables in (made.films, made.garments, made.designs, made.lines, made.shop["press"], made.shop["person"]):
        tables.reverse()
    return made


def shifted(given: Written) -> Written:
    """The same day a week and two hours later, opening hours and all."""
    made, by = given.copy(), timedelta(days=7, hours=2)
    made.start += by
    made.shop["hours"] = {"open": "10:00", "close": "19:00", "breaks": [["14:00", "14:30"]]}
    for line in made.lines:
        if "due" in line:
            line["due"] += by
    return made


def _convert(table: Table, how: Mapping[str, Any]) -> None:
    for key, change in how.items():
        if key in table:
            value = table[key]
            table[key] = [change(v) for v in value] if isinstance(value, list) else change(value)


def metric(given: Written) -> Written:
    """Degrees Celsius for Fahrenheit (NIST SP 811, B.8), centimetres for inches (2.54 exactly, B.8)."""
    made = given.copy()
    made.shop["units"] = {"temperature": "C", "length": "cm"}

    def point(f: float) -> float:
        return round((f - 32) * 5 / 9, 9)

    def interval(f: float) -> float:
        return round(f * 5 / 9, 9)

    def length(inch: float) -> float:
        return round(inch * 2.54, 9)

    made.shop["room"]["temperature"] = point(made.shop["room"]["temperature"])
    for press in made.shop["press"]:
        points = dict.fromkeys(("temperature", "at_start"), point)
        _convert(press, {"platen": length, **points, "heat_up": interval, "cool_down": interval})
    for film in made.films:
        _convert(film, {"temperature": point, "carrier": length})
    for garment in made.garments:
        _convert(garment, {"max_temperature": point})
    for layer in (layer for d in made.designs for place in d["placement"] for layer in place["layer"]):
        _convert(layer, {"box": length})
    return made


def faster(given: Written) -> Written:
    """Presses that heat and cool twice as fast and settle at once."""
    made = given.copy()
    for press in made.shop["press"]:
        press.update(heat_up=2 * press["heat_up"], cool_down=2 * press["cool_down"], settle_s=0)
    return made


def manned(given: Written) -> Written:
    """One more person, as quick as the others, on all presses."""
    made = given.copy()
    made.shop["person"].append({"id": "one-more", "pace": 1.0})
    return made


def wider(given: Written) -> Written:
    """Every film may be pressed a step hotter and a step cooler, and its dwell may last longer."""
    made = given.copy()
    for film in made.films:
        low, high = film["temperature"]
        film["temperature"] = [low - 9, high + 9]
    return made


def later(given: Written) -> Written:
    """Every due time ten minutes later."""
    made = given.copy()
    for line in made.lines:
        if "due" in line:
            line["due"] += timedelta(minutes=10)
    return made


def pressed(given: Written) -> Written:
    """One more press like the first."""
    made = given.copy()
    made.shop["press"].append({**made.shop["press"][0], "id": "press-more"})
    return made


SAME = {f.__name__: f for f in (renamed, reordered, shifted, metric)}
MORE = {f.__name__: f for f in (faster, manned, wider, later, pressed)}
