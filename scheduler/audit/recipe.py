"""What the closings of one piece, in the order they were made, ask of temperature, time, pressure and peel."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

from models.catalog import Film, Garment
from models.day import Day
from models.design import Design, Placement
from models.units import Range
from scheduler.audit import art

DOTS_C = {1: 110, 2: 150, 3: 200}  # ISO 3758:2023: the iron's dots, degrees Celsius at most
PEELS = {"hot": (0, 5), "warm": (5, 30), "cold": (60, math.inf)}

Step = tuple[str, tuple[int, ...]]  # placement, layers numbered from 1; no layers: a repress


@dataclass(frozen=True, slots=True)
class Bound:
    """A range of whole numbers and who asks for it."""

    lo: float
    hi: float
    who: str

    def __str__(self) -> str:
        lo, hi = f"{self.lo:g}", f"{self.hi:g}"
        if self.lo == self.hi:
            return f"{self.who} {lo}"
        if math.isinf(self.hi):
            return f"{self.who} at least {lo}"
        return f"{self.who} at most {hi}" if math.isinf(self.lo) else f"{self.who} {lo} to {hi}"


@dataclass(slots=True)
class Need:
    """What one closing of a piece asks for."""

    step: Step
    films: tuple[Film, ...]
    temperature: list[Bound] = field(default_factory=list)
    dwell: list[Bound] = field(default_factory=list)
    peel: list[Bound] = field(default_factory=list)
    pressures: list[tuple[tuple[str, ...], str]] = field(default_factory=list)
    prepress: Bound | None = None
    align_s: float = 0
    peel_s: float = 0


@dataclass(slots=True)
class Recipe:
    """The closings' needs, and what is wrong with their order: (rule, closing's place in it, message)."""

    needs: list[Need]
    wrong: list[tuple[str, int, str]]


def recipe(day: Day, garment: Garment, design: Design, steps: Sequence[Step]) -> Recipe:
    """Needs and faults of a piece's closings in the order they were made; every layer number must exist."""
    places = {place.at: place for place in design.placement}
    made = Recipe([_need(day, garment, places, steps, k) for k in range(len(steps))], [])
    for name, place in places.items():
        at = {layer: k for k, step in enumerate(steps) if step[0] == name for layer in step[1]}
        made.wrong += _order(day, place, at)
        made.wrong += _together(day, place, at)
    for k, need in enumerate(made.needs):
        made.wrong += _agree(need, k)
        made.wrong += _reheats(need, k, len(steps) - 1 - k)
    made.wrong += _represses(made.needs)
    return made


def seconds(given: Range, late: int) -> tuple[int, int]:
    """A time written as one number d or [lo, hi], in whole seconds; one number may run over by `late`."""
    lo = math.ceil(given.lo - 1e-9)
    return lo, max(lo, lo + late if given.single else math.floor(given.hi + 1e-9))


def limit(garment: Garment, unit: str) -> Bound | None:
    """The hottest the garment stands, by its own number or its care label's dots."""
    found: list[Bound] = []
    if garment.max_temperature is not None:
        found.append(Bound(-math.inf, math.floor(garment.max_temperature + 1e-9), f'garment "{garment.id}"'))
    if garment.iron is not None:
        dots = DOTS_C[garment.iron] * (1.0 if unit == "C" else 9 / 5) + (0 if unit == "C" else 32)
        who = f'garment "{garment.id}" (iron, {garment.iron} dots)'
        found.append(Bound(-math.inf, math.floor(dots + 1e-9), who))
    return min(found, key=lambda bound: bound.hi, default=None)


def _need(day: Day, garment: Garment, places: dict[str, Placement], steps: Sequence[Step], k: int) -> Need:
    step, late = steps[k], day.shop.rules.late_open_s
    laid = [places[step[0]].layer[number - 1] for number in step[1]]
    films = tuple(day.films[layer.film] for layer in laid)
    again = any(other[0] == step[0] for other in steps[k + 1 :])
    need = Need(step, films or _repressed(day, places, steps, k))
    for film in dict.fromkeys(need.films):
        lo, hi = math.ceil(film.temperature.lo - 1e-9), math.floor(film.temperature.hi + 1e-9)
        need.temperature.append(Bound(lo, hi, f'film "{film.id}"'))
        if film.pressure is not None:
            need.pressures.append((film.pressure, f'film "{film.id}"'))
    label = limit(garment, day.shop.units.temperature)
    need.temperature += [] if label is None else [label]
    need.temperature += _already(day, places, steps[:k])
    need.dwell = [_dwell(film, again, late) for film in films] if films else _repress_dwell(need.films, late)
    need.peel = [_peel(film) for film in films]
    if garment.prepress_s.hi > 0 and not any(other[0] == step[0] for other in steps[:k]):
        need.prepress = Bound(*seconds(garment.prepress_s, late), f'garment "{garment.id}"')
    hands = day.shop.hands
    need.align_s = sum(_first(layer.align_s, day.films[layer.film].align_s, hands.align_s) for layer in laid)
    need.peel_s = sum(_first(film.peel_hand_s, hands.peel_s) for film in films)
    return need


def _first(*given: float | None) -> float:
    return next(value for value in given if value is not None)


def _films(day: Day, places: dict[str, Placement], step: Step) -> tuple[Film, ...]:
    return tuple(day.films[places[step[0]].layer[number - 1].film] for number in step[1])


def _already(day: Day, places: dict[str, Placement], before: Sequence[Step]) -> list[Bound]:
    """The hottest that films already on the garment stand, on whatever placement they are."""
    films = dict.fromkeys(film for step in before for film in _films(day, places, step))
    return [
        Bound(-math.inf, math.floor(film.reheat_max + 1e-9), f'film "{film.id}", already on the garment,')
        for film in films
        if film.reheat_max is not None
    ]


def _repressed(day: Day, places: dict[str, Placement], steps: Sequence[Step], k: int) -> tuple[Film, ...]:
    """The films that want pressing again, of the closing before this one on its placement."""
    before = next((step for step in reversed(steps[:k]) if step[0] == steps[k][0]), None)
    return () if before is None else tuple(f for f in _films(day, places, before) if f.repress_s is not None)


def _dwell(film: Film, again: bool, late: int) -> Bound:
    if again and film.tack_s is not None:
        return Bound(*_single(film.tack_s, late), f'film "{film.id}", tacked,')
    return Bound(*seconds(film.dwell_s, late), f'film "{film.id}"')


def _single(given: float, late: int) -> tuple[int, int]:
    lo = math.ceil(given - 1e-9)
    return lo, lo + late


def _repress_dwell(films: Sequence[Film], late: int) -> list[Bound]:
    """The films' repress times where they meet, or else the longest of them."""
    bounds = [Bound(*_single(f.repress_s, late), f'film "{f.id}", pressed again,') for f in films if f.repress_s]
    if bounds and max(bound.lo for bound in bounds) > min(bound.hi for bound in bounds):
        return [max(bounds, key=lambda bound: bound.lo)]
    return bounds


def _peel(film: Film) -> Bound:
    lo, hi = PEELS[film.peel]
    if film.peel_after_s is not None:
        lo, latest = math.ceil(film.peel_after_s[0]), film.peel_after_s[1]
        hi = math.inf if latest is None else max(lo, math.floor(latest))
    return Bound(lo, hi, f'film "{film.id}"')


def _order(day: Day, place: Placement, at: dict[int, int]) -> list[tuple[str, int, str]]:
    """Layers whose art overlaps are pressed as listed, each in a later closing, nothing on a top-only film."""
    wrong = []
    for low, high in sorted(art.overlaps(place)):
        film = day.films[place.layer[low - 1].film]
        if film.top_only and high in at:
            why = f'layer {high} of "{place.at}" is laid on layer {low}, but nothing may lie on film "{film.id}"'
            wrong.append(("top-only", at[high], why))
        if low in at and high in at and at[low] >= at[high]:
            how = "in the same closing as" if at[low] == at[high] else "before"
            why = f'layer {high} of "{place.at}" is pressed {how} layer {low}, which lies under it and comes first'
            wrong.append(("layer-order", at[high], why))
    return wrong


def _together(day: Day, place: Placement, at: dict[int, int]) -> list[tuple[str, int, str]]:
    """Layers of one closing are peeled the same way, none under the carrier of another."""
    wrong = []
    films = [day.films[layer.film] for layer in place.layer]
    for a, b in sorted(art.covered(place, tuple(film.carrier for film in films))):
        if a in at and at.get(b) == at[a] and (min(a, b), max(a, b)) not in art.overlaps(place):
            why = f'layer {b} of "{place.at}" lies under the carrier of layer {a} (film "{films[a - 1].id}",'
            wrong.append(("carrier", at[a], f"{why} {films[a - 1].carrier:g} beyond its art); they need two closings"))
    return wrong


def _agree(need: Need, k: int) -> list[tuple[str, int, str]]:
    """The films of a closing have a temperature, a time, a pressure, a peel in common."""
    wrong = []
    for what, bounds in (("temperature", need.temperature), ("dwell", need.dwell), ("peel window", need.peel)):
        if bounds and max(b.lo for b in bounds) > min(b.hi for b in bounds):
            found = "; ".join(map(str, bounds))
            wrong.append(("windows-apart", k, f"no {what} suits all in this closing: {found}"))
    words = [set(allowed) for allowed, _ in need.pressures]
    if words and not set.intersection(*words):
        found = "; ".join(f"{who} {', '.join(allowed)}" for allowed, who in need.pressures)
        wrong.append(("windows-apart", k, f"no pressure suits all in this closing: {found}"))
    if need.step[1] and len({film.peel for film in need.films}) > 1:
        found = "; ".join(f'film "{film.id}" {film.peel}' for film in dict.fromkeys(need.films))
        wrong.append(("windows-apart", k, f"the layers of this closing are not peeled alike: {found}"))
    return wrong


def _reheats(need: Need, k: int, later: int) -> list[tuple[str, int, str]]:
    """Films stand only so many later pressings of their garment."""
    if not need.step[1]:
        return []
    return [
        ("reheats", k, f'film "{film.id}" is pressed {later} times again, and stands {film.reheats}')
        for film in dict.fromkeys(need.films)
        if film.reheats is not None and later > film.reheats
    ]


def _represses(needs: Sequence[Need]) -> list[tuple[str, int, str]]:
    """A repress comes right after a closing whose films want it, and nowhere else."""
    wrong = []
    for k, need in enumerate(needs):
        place, layers = need.step
        after = needs[k + 1] if k + 1 < len(needs) and needs[k + 1].step[0] == place else None
        wants = [film for film in dict.fromkeys(need.films) if layers and film.repress_s is not None]
        if wants and (after is None or after.step[1]):
            why = f'film "{wants[0].id}" is to be pressed again for {wants[0].repress_s:g} s right after, and is not'
            wrong.append(("repress-missing", k, why))
        if not layers and not need.films:
            why = f'a closing without layers on "{place}", but no film pressed just before wants it'
            wrong.append(("repress-unwanted", k, why))
    return wrong
