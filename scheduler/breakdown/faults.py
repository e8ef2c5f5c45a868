"""What is wrong with a design on a garment, and what is worth a warning, in the shop's words."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence

from models.catalog import Film, Garment
from models.day import Day
from models.design import Design, Placement
from models.operation import CoolTo
from models.problem import Problem
from models.units import IRON_DOTS_C, inward
from scheduler.breakdown.geometry import Stack, extent, fits_within
from scheduler.breakdown.windows import hottest_peel, pressable
from scheduler.breakdown.work import films_of

DESIGNS = "designs.toml"
CATALOG = "catalog.toml"


def design_faults(design: Design, day: Day, stacks: Mapping[str, Stack]) -> Iterator[Problem]:
    """Art without an area, and art laid over a film that nothing may be laid on."""
    for place in design.placement:
        lies = stacks[place.at]
        for i in lies.empty:
            outline = str([list(point) for point in place.layer[i].outline or ()])
            yield Problem(
                DESIGNS,
                layers_at(design, place, [i + 1]),
                "outline",
                outline,
                "the art encloses no area",
                "Give points that are not all on one line.",
            )
        for low, high in sorted(lies.overlaps):
            film = day.films[place.layer[low].film]
            if film.top_only:
                yield _covered_top(design, place, low, high, film)


def _covered_top(design: Design, place: Placement, low: int, high: int, film: Film) -> Problem:
    over = place.layer[high].film
    return Problem(
        DESIGNS,
        layers_at(design, place, [high + 1]),
        "film",
        f'"{over}"',
        f'layer {high + 1} ("{over}") lies over layer {low + 1}, and nothing may be laid on its film '
        f'"{film.id}" (top_only)',
        f"List layer {low + 1} after layer {high + 1}, or move their art apart.",
    )


def film_faults(film: Film, day: Day) -> Iterator[Problem]:
    """What no garment could mend: temperatures without a whole degree, a peel colder than the room."""
    where, room = f'film "{film.id}"', day.shop.room_temperature
    if inward(film.temperature.lo, film.temperature.hi) is None:
        yield Problem(
            CATALOG,
            where,
            "temperature",
            f"[{film.temperature.lo:g}, {film.temperature.hi:g}]",
            "no whole degree lies in it, and presses are set to whole degrees",
            "Widen it to a whole degree.",
        )
    if film.peel_below is not None and film.peel_below <= room:
        yield Problem(
            CATALOG,
            where,
            "peel_below",
            f"{film.peel_below:g}",
            f"the room is at {degrees(day, room)}, and nothing in it cools to that or below",
            f"Give a temperature above {room:g}, or a lower [room] temperature in shop.toml.",
        )
    if film.repress_s is not None:
        yield from _own_repress(film, where, day)


def _own_repress(film: Film, where: str, day: Day) -> Iterator[Problem]:
    lowest = film.temperature.lo
    if film.reheat_max is not None and film.reheat_max < lowest:
        yield Problem(
            CATALOG,
            where,
            "reheat_max",
            f"{film.reheat_max:g}",
            f"its own repress is a later pressing, at {degrees(day, lowest)} or more",
            f"Give {lowest:g} or more, or leave out repress_s.",
        )
    if film.reheats == 0:
        yield Problem(
            CATALOG,
            where,
            "reheats",
            "0",
            "its own repress is a later pressing",
            "Give 1 or more, or leave out repress_s.",
        )


def garment_faults(garment: Garment, design: Design, day: Day) -> Iterator[Problem]:
    """Films that the garment does not stand, or from which it does not cool in time."""
    needing_tau: list[str] = []
    for film in (day.films[name] for name in films_of(design)):
        window = pressable(film, garment, day.shop.units.temperature)
        if window is None:
            if inward(film.temperature.lo, film.temperature.hi) is not None:
                yield _too_hot(film, garment, design, day)
        elif film.peel_below is not None and film.peel_below > day.shop.room_temperature:
            if garment.cooling_tau_s is None:
                needing_tau.append(film.id)
            elif film.peel_window.hi is not None:
                cool_to = CoolTo(film.peel_below, garment.cooling_tau_s)
                if hottest_peel(cool_to, film.peel_window.hi, day.shop.room_temperature, window) is None:
                    yield _too_slow(film, garment, design, day, cool_to, window.lo)
    if needing_tau:
        yield Problem(
            CATALOG,
            f'garment "{garment.id}"',
            "cooling_tau_s",
            "",
            f"left out, but {names('film', needing_tau)} gives peel_below and is pressed on it",
            "Give the garment's cooling time constant in seconds (about 30 for a T-shirt).",
        )


def _too_hot(film: Film, garment: Garment, design: Design, day: Day) -> Problem:
    limit = garment.limit(day.shop.units.temperature)
    assert limit is not None
    return Problem(
        DESIGNS,
        _where_used(design, film.id),
        "film",
        f'"{film.id}"',
        f'film "{film.id}" wants {_span(film.temperature.lo, film.temperature.hi)} °{day.shop.units.temperature}, '
        f"{_stands_at_most(garment, day)}",
        f"Use a film that is pressed at {degrees(day, limit)} or less, or a garment that stands "
        f"{degrees(day, film.temperature.lo)}.",
    )


def _too_slow(film: Film, garment: Garment, design: Design, day: Day, cool_to: CoolTo, lowest: int) -> Problem:
    return Problem(
        DESIGNS,
        _where_used(design, film.id),
        "film",
        f'"{film.id}"',
        f'film "{film.id}" is peeled at the latest {film.peel_window.hi} s after the press opens and below '
        f'{degrees(day, cool_to.below)}, but garment "{garment.id}" takes '
        f"{cool_to.seconds(lowest, day.shop.room_temperature)} s to cool to that even from "
        f"{degrees(day, lowest)} (cooling_tau_s = {cool_to.tau_s:g})",
        "Allow a later peel_after_s, a higher peel_below, or use another garment.",
    )


def remarks(design: Design, day: Day) -> Iterator[str]:
    """Warnings: many layers, art larger than its film's roll, art beyond the placement's size."""
    many, unit = day.shop.rules.many_layers, day.shop.units.length
    for place in design.placement:
        where = f'design "{design.id}", placement "{place.at}"'
        if len(place.layer) > many:
            yield f"{where}: {len(place.layer)} layers, more than {many}; so many get stiff and clumsy"
        for n, layer in enumerate(place.layer, start=1):
            roll, art = day.films[layer.film].roll, extent([layer])
            if roll is not None and not fits_within(art, roll):
                yield (
                    f"{where}, layer {n}: the art is {_by(art)} {unit}, larger than the roll of film "
                    f'"{layer.film}" ({_by(roll)} {unit}) either way round; it has to be cut in parts'
                )
        whole = extent(place.layer)
        if place.size is not None and not fits_within(whole, place.size):
            size = f"{_by(place.size)} {unit}"
            yield f"{where}: the art is {_by(whole)} {unit}, larger than the placement's size of {size}"


def layers_at(design: Design, place: Placement, numbers: Sequence[int]) -> str:
    """Where layers stand, for a message."""
    return f'design "{design.id}", placement "{place.at}", {_numbered(numbers)}'


def degrees(day: Day, value: float) -> str:
    """A temperature with the shop's unit."""
    return f"{value:g} °{day.shop.units.temperature}"


def names(what: str, found: Sequence[str]) -> str:
    """One name or several, with what they name: films "a" and "b"."""
    quoted = [f'"{name}"' for name in found]
    return f"{what} {quoted[0]}" if len(quoted) == 1 else f"{what}s {_listed(quoted)}"


def _stands_at_most(garment: Garment, day: Day) -> str:
    limit = garment.limit(day.shop.units.temperature)
    assert limit is not None
    by_label = garment.iron is not None and limit != garment.max_temperature
    why = f" (iron = {garment.iron}: {IRON_DOTS_C[garment.iron]:g} °C, ISO 3758)" if by_label and garment.iron else ""
    return f'garment "{garment.id}" stands at most {degrees(day, limit)}{why}'


def _where_used(design: Design, film: str) -> str:
    found = []
    for place in design.placement:
        numbers = [n for n, layer in enumerate(place.layer, start=1) if layer.film == film]
        if numbers:
            found.append(f'placement "{place.at}", {_numbered(numbers)}')
    return f'design "{design.id}", ' + "; ".join(found)


def _numbered(numbers: Sequence[int]) -> str:
    return f"layer {numbers[0]}" if len(numbers) == 1 else f"layers {_listed([str(n) for n in numbers])}"


def _listed(words: Sequence[str]) -> str:
    return ", ".join(words[:-1]) + f" and {words[-1]}"


def _span(lo: float, hi: float) -> str:
    return f"{lo:g}" if lo == hi else f"{lo:g} to {hi:g}"


def _by(size: Iterable[float]) -> str:
    return " by ".join(f"{value:g}" for value in size)
