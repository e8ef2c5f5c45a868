"""Small days for the rooms behind the breakdown: from a few arguments, or from a seed."""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

from models.catalog import Catalog
from models.day import Day
from models.design import Designs
from models.order import OrderLine
from models.shop import Press, Shop
from scheduler.audit import audit_rows, measure
from scheduler.breakdown import break_down, check_fits
from scheduler.instance import Instance
from scheduler.solving.bundles import Work, cut
from scheduler.solving.chains import default_chains
from scheduler.solving.estimate import Estimator
from scheduler.solving.incumbent import programme_of
from scheduler.solving.seed import seeds
from scheduler.solving.settings import Settings
from scheduler.timetable.measure import measure as measured
from scheduler.timetable.programme import Programme
from scheduler.timetable.record import Timetable
from scheduler.timetable.rows import rows_of
from tests.scheduler.breakdown.days import PRESS, TEE, Table, film, pile, strip

START = datetime(2026, 12, 1, 8)  # a Tuesday

Ordered = tuple[str, int] | tuple[str, int, Mapping[str, Any]]


def at(minutes: float) -> datetime:
    """So many minutes after the start."""
    return START + timedelta(minutes=minutes)


def press(name: str = "window", **given: Any) -> Press:
    """A press of 200 to 430 degrees, 25 up and 4 down a minute, unless given otherwise."""
    table = {**PRESS, "id": name, **given}
    if "heating" in given:
        del table["heat_up"]
    if "cooling" in given:
        del table["cool_down"]
    return Press.model_validate(table)


def day(
    films: Sequence[Table],
    designs: Mapping[str, Mapping[str, Sequence[Table]]],
    orders: Sequence[Ordered],
    *,
    garments: Sequence[Table] = (TEE,),
    presses: Sequence[Table] = (PRESS,),
    people: Sequence[Table] = ({"id": "ada"},),
    **shop: Any,
) -> Day:
    """A day of orders (design, quantity[, further fields of the line]), numbered from 1, of the first garment."""
    lines = []
    for number, (design, quantity, *rest) in enumerate(orders, 1):
        more = dict(rest[0]) if rest else {}
        fields = {"order": str(number), "line": "1", "garment": garments[0]["id"], **more}
        lines.append(OrderLine.model_validate({**fields, "design": design, "quantity": quantity}))
    written = [
        {"id": name, "placement": [{"at": place, "layer": list(layers)} for place, layers in places.items()]}
        for name, places in designs.items()
    ]
    return Day(
        shop=Shop.model_validate({"press": list(presses), "person": list(people), **shop}),
        catalog=Catalog.model_validate({"film": list(films), "garment": list(garments)}),
        designs=Designs.model_validate({"design": written}),
        lines=tuple(lines),
        start=START,
    )


def instance_of(made: Day) -> Instance:
    """The day under its default chains."""
    return Instance(made, default_chains(made, check_fits(made, break_down(made))))


def seeded(instance: Instance, jobs: int = 30) -> tuple[Work, Settings, Estimator, list[list[list[int]]]]:
    """The day's jobs with their estimator, and every sequence the seed rule gives."""
    work, settings = cut(instance, jobs), Settings(instance)
    estimator = Estimator(instance, work, settings)
    return work, settings, estimator, list(seeds(instance, work, settings, estimator))


def programmes(instance: Instance, jobs: int = 30) -> list[Programme]:
    """Every seed's programme, each once."""
    work, settings, _, sequences = seeded(instance, jobs)
    return list(dict.fromkeys(programme_of(settings, work, s) for s in sequences))


def faults(instance: Instance, table: Timetable) -> list[str]:
    """What an auditor finds wrong with a timed programme, with pieces left over and differing figures."""
    if table.unplaced or table.broken:
        return [f"{table.unplaced} unplaced, {table.broken} broken"]
    rows = rows_of(instance, table)
    found = [str(finding) for finding in audit_rows(instance.day, rows)]
    seen = measure(instance.day, rows)
    mine = (table.late / 60, table.work / 60, table.change_count, table.change_seconds / 60, table.peel_wait / 60)
    theirs = (seen.late_min, seen.work_min, seen.changes, seen.change_min, seen.peel_wait_min)
    names = ("late", "work", "changes", "change minutes", "peel wait")
    found += [
        f"{name}: {a} here, {b} on the rows"
        for name, a, b in zip(names, mine, theirs, strict=True)
        if abs(a - b) > 1e-6
    ]
    return found


def random_day(seed: int, *, tiny: bool = False) -> Day:
    """A day drawn from a seed: one to three presses and people, peels of all kinds, gangs, racks, breaks.

    `tiny`: at most five loadings on one or two presses, one after another by one or two people.
    """
    return _Draw(seed, tiny).day()


class _Draw:
    def __init__(self, seed: int, tiny: bool) -> None:
        self.rng, self.tiny = random.Random(seed), tiny

    def day(self) -> Day:
        presses, people = self._presses(), self._people()
        films = [self._film(n) for n in range(1, self.rng.randint(2, 4))]
        designs = {f"d{n}": self._places(films) for n in range(self.rng.randint(1, 2 if self.tiny else 3))}
        return day(
            films,
            designs,
            [self._order(list(designs)) for _ in range(self.rng.randint(1, 2 if self.tiny else 4))],
            garments=[self._garment()],
            presses=presses,
            people=[{**who, "presses": self._some(presses)} if n else who for n, who in enumerate(people)],
            hours=self._hours(),
            rules={"late_open_s": self.rng.choice([2, 3, 6]), **self._rack()},
            goals={"change": self.rng.choice([0, 10]), "peel_wait": self.rng.choice([0, 1, 2])},
        )

    def _presses(self) -> list[Table]:
        made = []
        for name in ("window", "wall", "corner")[: self.rng.randint(1, 2 if self.tiny else 3)]:
            more: dict[str, Any] = {"settle_s": self.rng.choice([0, 60]), "stations": self.rng.choice([1, 1, 2])}
            if self.rng.random() < 0.5:
                more["auto_open"] = True
            if self.rng.random() < 0.3:
                more |= {"pressures": ["medium", "firm"], "pressure_change_s": 30}
            if self.rng.random() < 0.5:
                more["at_start"] = self.rng.choice([150, 300, 310.5])
            if self.rng.random() < 0.2 and not self.tiny:
                more["away"] = [(at(40), at(60))]
            made.append({**PRESS, "id": name, **more})
        return made

    def _people(self) -> list[Table]:
        made: list[Table] = []
        for name in ("ada", "ben", "cy")[: self.rng.randint(1, 2 if self.tiny else 3)]:
            who: dict[str, Any] = {"id": name, "pace": self.rng.choice([1.0, 1.0, 0.85, 1.3])}
            if self.rng.random() < 0.2 and made:
                who |= {"open": "09:00", "close": "15:30"}
            made.append(who)
        return made

    def _some(self, presses: Sequence[Table]) -> list[str]:
        ids = [p["id"] for p in presses]
        return self.rng.sample(ids, self.rng.randint(1, len(ids)))

    def _film(self, number: int) -> Table:
        lo = self.rng.choice([280, 300, 310])
        peel = self.rng.choice(["hot", "hot", "warm", "cold"])
        dwell = self.rng.choice([[10, 15], 12, [15, 20]])
        more: dict[str, Any] = {"temperature": [lo, lo + self.rng.choice([0, 15, 30])], "dwell_s": dwell, "peel": peel}
        if peel == "cold" and self.rng.random() < 0.5:
            more["peel_below"] = 100
        if self.rng.random() < 0.3:
            more["tack_s"] = 5
        if self.rng.random() < 0.15:
            more["repress_s"] = 5
        return film(f"f{number}", **more)

    def _places(self, films: Sequence[Table]) -> dict[str, list[Table]]:
        made = {}
        for place in ("front", "back")[: 1 if self.rng.random() < 0.7 else 2]:
            layers = [pile(self.rng.choice(films)["id"])]
            if self.rng.random() < (0.3 if self.tiny else 0.5):
                name = self.rng.choice(films)["id"]
                layers.append(pile(name) if self.rng.random() < 0.6 else strip(name, 3))
            made[place] = layers
        return made

    def _order(self, designs: Sequence[str]) -> Ordered:
        more: dict[str, Any] = {"priority": self.rng.choice([1, 1, 2.5])}
        if self.rng.random() < 0.5:
            more["due"] = at(self.rng.choice([10, 45, 90, 300]))
        if self.rng.random() < 0.25:
            more["ready"] = at(self.rng.choice([5, 60]))
        return self.rng.choice(designs), self.rng.randint(1, 2 if self.tiny else 14), more

    def _garment(self) -> Table:
        more: dict[str, Any] = {"cooling_tau_s": 30}
        if self.rng.random() < 0.3:
            more["prepress_s"] = self.rng.choice([4, [3, 6]])
        if self.rng.random() < 0.3:
            more["footprint"] = [5, 6]
        return {**TEE, **more}

    def _hours(self) -> Table:
        if self.tiny:
            return {}
        if self.rng.random() < 0.3:
            return {"open": "08:00", "close": self.rng.choice(["08:25", "09:00"]), "breaks": []}
        return {"breaks": self.rng.choice([[], [["08:20", "08:35"]], [["09:00", "09:15"], ["12:00", "12:30"]]])}

    def _rack(self) -> dict[str, int]:
        return {"rack": self.rng.randint(1, 8)} if self.rng.random() < 0.3 else {}


def pushed_apart(instance: Instance, table: Timetable, seconds: int) -> Timetable:
    """The timetable with every loading so many seconds further from the one before."""
    late = [
        replace(
            loading,
            done=[(a + seconds * n, b + seconds * n, who) for a, b, who in loading.done],
            opens=[moment + seconds * n for moment in loading.opens],
        )
        for n, loading in enumerate(table.loadings)
    ]
    return measured(instance, replace(table, loadings=late))
