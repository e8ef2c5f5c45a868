"""Figures that the bounds of their own field allow, and that still make no sense beside each other."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any, TypeVar

from pydantic import BaseModel, ValidationError

from models.catalog import Film
from models.design import Layer
from models.shop import Hours, Person, Press
from models.units import TemperatureUnit, inward, to_celsius
from scheduler.intake.findings import Findings, show
from scheduler.intake.references import Raw, design_films, label, labelled, parts
from scheduler.intake.toml import plain, tables, text_of

M = TypeVar("M", bound=BaseModel)

HOTTEST_C = 430.0  # no platen is set hotter; a figure above it is a slip of the unit or of the pen
ROOM_C = (-20.0, 60.0)
START_FACTOR = 1.2  # a press shows at most this much more than its highest set-point

_HEATS = {
    "press": ("temperature", "at_start"),
    "film": ("temperature", "peel_below", "reheat_max"),
    "garment": ("max_temperature",),
}


def check_sense(raw: Raw, found: Findings) -> None:
    """Note what makes no sense, item by item; an item that is otherwise wrong is left to its own problems."""
    unit, room = unit_of(raw.shop), room_of(raw.shop)
    _room(raw, unit, room, found)
    for file, node, kind in (("shop.toml", raw.shop, "press"), ("catalog.toml", raw.catalog, "film")):
        _heats(file, node, kind, unit, found)
    _heats("catalog.toml", raw.catalog, "garment", unit, found)
    for where, press in sound(Press, raw.shop, "press"):
        _press(press, where, unit, room, found)
    for where, film in sound(Film, raw.catalog, "film"):
        if inward(film.temperature.lo, film.temperature.hi) is None:
            value = show([film.temperature.lo, film.temperature.hi])
            right = "Presses are set to whole degrees: write a window that holds one"
            found.add("catalog.toml", where, "temperature", value, "there is no whole degree in it", right)
        if raw.shop is not None and film.peel_below is not None and film.peel_below <= room:
            wrong = f"the garment never falls below the room's {room:g} °{unit}"
            right = f"Write a temperature above {room:g} °{unit}"
            found.add("catalog.toml", where, "peel_below", f"{film.peel_below:g}", wrong, right)
    _hours(raw, found)
    _cooling(raw, found)
    _outlines(raw, found)


def unit_of(shop: Any) -> TemperatureUnit:
    """The unit of temperature that shop.toml gives, °F where it gives none that is known."""
    units = shop.get("units") if isinstance(shop, dict) else None
    return "C" if text_of(units, "temperature") == "C" else "F"


def length_of(shop: Any) -> str:
    """The unit of length that shop.toml gives, inches where it gives none that is known."""
    units = shop.get("units") if isinstance(shop, dict) else None
    return "cm" if text_of(units, "length") == "cm" else "in"


def room_of(shop: Any) -> float:
    """The room's temperature, the model's default where it is left out or no number."""
    room = shop.get("room") if isinstance(shop, dict) else None
    given = number_of(room.get("temperature")) if isinstance(room, dict) else None
    return given if given is not None else 72.0 if unit_of(shop) == "F" else 22.0


def number_of(value: Any) -> float | None:
    """A finite number of sane size, or None."""
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        return None
    return float(value) if abs(value) < 1e15 and math.isfinite(value) else None


def sound(model: type[M], node: Any, kind: str) -> Iterator[tuple[str, M]]:
    """The [[kind]] tables that are right in themselves, each with its place in words."""
    for number, item in enumerate(tables(node, kind), 1):
        try:
            yield label(kind, number, item), model.model_validate(plain(item), strict=True)
        except (ValidationError, RecursionError):
            continue


def _room(raw: Raw, unit: TemperatureUnit, room: float, found: Findings) -> None:
    if raw.shop is not None and not ROOM_C[0] <= to_celsius(room, unit) <= ROOM_C[1]:
        wrong = f"no room to work in has {room:g} °{unit}"
        right = "Write it in the unit of [units]: about 72 °F or 22 °C"
        found.add("shop.toml", "[room]", "temperature", f"{room:g}", wrong, right)


def _heats(file: str, node: Any, kind: str, unit: TemperatureUnit, found: Findings) -> None:
    """Degrees that no platen reaches: °F written under °C, most likely."""
    for number, item in enumerate(tables(node, kind), 1):
        for field in _HEATS[kind]:
            value = item.get(field)
            numbers = [n for v in (value if isinstance(value, list) else [value]) if (n := number_of(v)) is not None]
            if unit == "C" and any(HOTTEST_C < n <= 800 for n in numbers):
                wrong = f"above {HOTTEST_C:g} °C nothing is pressed; [units] says °C"
                found.add(file, label(kind, number, item), field, show(value), wrong, 'Write °C, or set [units] to "F"')


def _press(press: Press, where: str, unit: TemperatureUnit, room: float, found: Findings) -> None:
    lowest, highest = press.temperature
    if press.cooling is not None and lowest <= room:
        wrong = f"by its measured cooling the press never falls to {lowest:g} °{unit}, the room has {room:g}"
        right = f"Write a lowest set-point above {room:g} °{unit}"
        found.add("shop.toml", where, "temperature", show(list(press.temperature)), wrong, right)
    if highest <= 0:
        found.add(
            "shop.toml", where, "temperature", show(list(press.temperature)), "no press works so cold", "Write more"
        )
    if press.at_start is not None and press.at_start > START_FACTOR * highest:
        wrong = f"the press can be set to at most {highest:g} °{unit}"
        right = f"Write at most {START_FACTOR * highest:g} °{unit}"
        found.add("shop.toml", where, "at_start", f"{press.at_start:g}", wrong, right)
    elif press.at_start is not None and press.heating is not None and press.at_start >= press.heating.ceiling:
        wrong = f"this is not below heating.ceiling, {press.heating.ceiling:g} °{unit}"
        found.add(
            "shop.toml", where, "at_start", f"{press.at_start:g}", wrong, "Write what the press shows at the start"
        )


def _hours(raw: Raw, found: Findings) -> None:
    shop = raw.shop if raw.shop is not None else {}
    try:
        hours = Hours.model_validate(plain(shop.get("hours", {})), strict=True)
    except (ValidationError, RecursionError):
        return
    at = hours.open
    for first, last in sorted(hours.breaks):
        at = max(at, last) if first <= at else at
    if at >= hours.close:
        wrong = "the breaks leave no time between open and close"
        found.add("shop.toml", "[hours]", "breaks", "", wrong, "Write shorter breaks or longer hours")
    for where, person in sound(Person, raw.shop, "person"):
        opens = hours.open if person.open is None else person.open
        closes = hours.close if person.close is None else person.close
        if opens >= closes:
            field, other = ("open", "the shop closes") if person.close is None else ("close", "the shop opens")
            wrong = f"{other} before that, so this person is never there"
            found.add("shop.toml", where, field, "", wrong, "Give the person both open and close")


def _cooling(raw: Raw, found: Findings) -> None:
    """A garment ordered with a film that gives peel_below needs its time constant of cooling."""
    below = {t["id"] for t in tables(raw.catalog, "film") if "peel_below" in t and text_of(t, "id") == t.get("id")}
    films = design_films(raw.designs)
    wanted: dict[str, str] = {}
    for line in raw.lines or ():
        for film in films.get(line.design, ()):
            if film in below:
                wanted.setdefault(line.garment, film)
    for number, garment in enumerate(tables(raw.catalog, "garment"), 1):
        name = wanted.get(text_of(garment, "id") or "")
        if name is not None and "cooling_tau_s" not in garment:
            wrong = f"film {show(name)}, ordered on it, is peeled by temperature (peel_below), and this is missing"
            right = "Write its cooling's time constant in seconds, as cooling_tau_s = 30"
            found.add("catalog.toml", label("garment", number, garment), "cooling_tau_s", "", wrong, right)


def _outlines(raw: Raw, found: Findings) -> None:
    for where, design in labelled(raw.designs, "design"):
        for spot, place in parts(design, "placement", where, "at"):
            for number, layer in enumerate(tables(place, "layer"), 1):
                shape = next((piece for _, piece in sound(Layer, {"layer": [layer]}, "layer")), None)
                if shape and shape.outline and (fault := _fault(shape.outline)):
                    right = "List the points of one closed line that does not cross itself"
                    found.add("designs.toml", f"{spot}, layer {number}", "outline", show(shape.outline), fault, right)


def _fault(points: tuple[tuple[float, float], ...]) -> str:
    from shapely import MultiPoint, Polygon, is_valid_reason

    if MultiPoint(points).convex_hull.area < 1e-9:
        return "the outline encloses no area"
    shape = Polygon(points)
    return "" if shape.is_valid else f"this is no outline of one area ({is_valid_reason(shape)})"
