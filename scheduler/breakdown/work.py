"""One garment with one design, made ready for grouping: every layer with what its film asks."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import NamedTuple

from models.catalog import Garment
from models.day import Day
from models.design import Design, Placement
from models.units import Window
from scheduler.breakdown.geometry import Stack
from scheduler.breakdown.grouping import Grouper, Part
from scheduler.breakdown.windows import Demand, demand, pressable


class Unit(NamedTuple):
    """Layers of one placement, numbered from 1, that go down in one operation."""

    place: str
    layers: tuple[int, ...]


@dataclass(frozen=True)
class Work:
    """A garment and a design; `parts` holds each placement's layers, placements in the design's order."""

    day: Day
    garment: Garment
    design: Design
    parts: Mapping[str, tuple[Part, ...]]

    @cached_property
    def groupers(self) -> dict[str, Grouper]:
        """One grouper for each placement."""
        return {place: self._grouper(parts) for place, parts in self.parts.items()}

    @cached_property
    def all_parts(self) -> tuple[Part, ...]:
        """The layers of all placements in one list, their bit sets shifted to it."""
        found: list[Part] = []
        for parts in self.parts.values():
            at = len(found)
            found.extend(replace(part, over=part.over << at, apart=part.apart << at) for part in parts)
        return tuple(found)

    @cached_property
    def whole(self) -> Grouper:
        """The grouper over all placements at once, where their operations may alternate."""
        return self._grouper(self.all_parts)

    @property
    def late(self) -> int:
        """Seconds a dwell given as one number may run over."""
        return self.day.shop.rules.late_open_s

    @property
    def room(self) -> float:
        """The room's temperature, shop's unit."""
        return self.day.shop.room_temperature

    def demands(self, unit: Unit) -> list[Demand]:
        """What the films of a unit ask, in layer order."""
        return [self.parts[unit.place][number - 1].demand for number in unit.layers]

    def placement(self, at: str) -> Placement:
        """The design's placement by its name."""
        return next(place for place in self.design.placement if place.at == at)

    def without_reheats(self) -> Grouper:
        """The grouper over all placements as if films stood any number of later pressings."""
        parts = [replace(part, demand=replace(part.demand, reheats=None)) for part in self.all_parts]
        return self._grouper(tuple(parts))

    def _grouper(self, parts: tuple[Part, ...]) -> Grouper:
        return Grouper(parts, self.room, self.late)


def assemble(day: Day, garment: Garment, design: Design, stacks: Mapping[str, Stack]) -> Work:
    """Layers, films and geometry put together; the garment stands each film alone."""
    demands = {film: _demand(day, garment, film) for film in films_of(design)}
    parts = {}
    for place in design.placement:
        lies = stacks[place.at]
        parts[place.at] = tuple(
            Part(
                place=place.at,
                number=i + 1,
                demand=demands[layer.film],
                over=sum(1 << j for low, j in lies.overlaps if low == i),
                apart=sum(1 << (a + b - i) for a, b in lies.covered | lies.overlaps if i in (a, b)),
            )
            for i, layer in enumerate(place.layer)
        )
    return Work(day, garment, design, parts)


def films_of(design: Design) -> tuple[str, ...]:
    """The films a design uses, in the order they first stand."""
    return tuple(dict.fromkeys(layer.film for place in design.placement for layer in place.layer))


def _demand(day: Day, garment: Garment, film: str) -> Demand:
    window: Window | None = pressable(day.films[film], garment, day.shop.units.temperature)
    assert window is not None
    return demand(day.films[film], garment, window, day.shop.rules.late_open_s, day.pressure_words)
