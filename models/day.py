"""A whole day folder, read and sound."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from functools import cached_property

from models.catalog import Catalog, Film, Garment
from models.design import Design, Designs
from models.order import NameRow, Order, OrderLine
from models.shop import Person, Press, Shop

# Who or what was out of work from when to when; None: nobody knows until when.
Outages = Mapping[str, tuple[tuple[datetime, datetime | None], ...]]


@dataclass(frozen=True)
class Day:
    """Everything a person wrote for one planning job. `start` is where planning begins."""

    shop: Shop
    catalog: Catalog
    designs: Designs
    lines: tuple[OrderLine, ...]
    start: datetime
    names: tuple[NameRow, ...] = ()
    inputs: Mapping[str, str] = field(default_factory=dict)  # file name -> sha256 of its bytes
    down: Outages = field(default_factory=dict)  # by the log, once a plan was made again: presses by id
    absent: Outages = field(default_factory=dict)  # and people

    @cached_property
    def films(self) -> dict[str, Film]:
        """Films by id."""
        return {film.id: film for film in self.catalog.film}

    @cached_property
    def garments(self) -> dict[str, Garment]:
        """Garments by id."""
        return {garment.id: garment for garment in self.catalog.garment}

    @cached_property
    def design(self) -> dict[str, Design]:
        """Designs by id."""
        return {design.id: design for design in self.designs.design}

    @cached_property
    def presses(self) -> dict[str, Press]:
        """Presses by id, in the shop's order."""
        return {press.id: press for press in self.shop.press}

    @cached_property
    def people(self) -> dict[str, Person]:
        """People by id, in the shop's order."""
        return {person.id: person for person in self.shop.person}

    @cached_property
    def orders(self) -> dict[str, Order]:
        """Orders by id, in file order."""
        grouped: dict[str, list[OrderLine]] = {}
        for line in self.lines:
            grouped.setdefault(line.order, []).append(line)
        return {
            key: Order(key, next((ln.customer for ln in lines if ln.customer), ""), tuple(lines))
            for key, lines in grouped.items()
        }

    @cached_property
    def pressure_words(self) -> tuple[str, ...]:
        """Every word for a pressure that presses or films use; one word where none is used."""
        words: dict[str, None] = {}
        for group in [p.pressures for p in self.shop.press] + [f.pressure for f in self.catalog.film]:
            words.update(dict.fromkeys(group or ()))
        return tuple(words) or ("medium",)

    def press_pressures(self, press: str) -> tuple[str, ...]:
        """The pressures a press can be set to, in its own order; left out: any word in use."""
        return self.presses[press].pressures or self.pressure_words

    def seconds(self, at: datetime) -> int:
        """Whole seconds from the start of planning to `at`; before the start is negative."""
        return round((at - self.start).total_seconds())

    def at(self, seconds: int) -> datetime:
        """The clock time `seconds` after the start of planning."""
        return self.start + timedelta(seconds=seconds)
