"""A sound day in words: what it holds, and what is worth a second look before it is planned."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations

from models.catalog import Film
from models.day import Day
from models.design import Layer, Placement
from models.shop import WEEKDAYS, Person, Press
from models.units import inward, to_celsius
from scheduler.calendar import open_hours, person_windows, press_windows

COOLEST_C = 93.0  # heat-applied films are pressed hotter than this: a figure below it is a slip of the unit

MOST_PAIRS = 20


def describe(day: Day) -> list[str]:
    """The day in plain sentences, one a line: counts, hours, presses, people, films, then what to look at."""
    return [
        *_counts(day),
        _hours(day),
        *(_press(day, press) for press in day.shop.press),
        *(_person(day, person) for person in day.shop.person),
        *(_film(day, film) for film in used_films(day)),
        *_apart(day),
        *(f"Worth a look: {line}" for line in worth_a_look(day)),
    ]


def used_films(day: Day) -> list[Film]:
    """The films that the ordered designs lay, in the catalog's order."""
    laid = {layer.film for _, layer in _layers(day)}
    return [film for film in day.catalog.film if film.id in laid]


def films_apart(day: Day) -> list[tuple[Film, Film, str]]:
    """Pairs of films in use that never share a setting, and why: windows or pressures that do not meet."""
    return [(a, b, why) for a, b in combinations(used_films(day), 2) if (why := _why_apart(a, b))]


def _why_apart(a: Film, b: Film) -> str:
    one, two = (inward(film.temperature.lo, film.temperature.hi) for film in (a, b))
    if one is None or two is None or one.meet(two) is None:
        return f"{one} against {two} degrees"
    if a.pressure and b.pressure and not set(a.pressure) & set(b.pressure):
        return f"pressure {' or '.join(a.pressure)} against {' or '.join(b.pressure)}"
    return ""


def worth_a_look(day: Day) -> list[str]:
    """Things that are no error and that a shop may not have meant."""
    return [
        *_times(day),
        *_idle_things(day),
        *_presence(day),
        *_figures(day),
        *_art(day),
        *_spare_names(day),
    ]


def _counts(day: Day) -> Iterator[str]:
    if day.shop.name:
        yield day.shop.name
    pieces = sum(line.quantity for line in day.lines)
    counts = (
        (len(day.shop.press), "press", "presses"),
        (len(day.shop.person), "person", "people"),
        (len(day.orders), "order", "orders"),
        (len(day.lines), "line", "lines"),
        (pieces, "piece", "pieces"),
    )
    yield ", ".join(f"{n} {one if n == 1 else many}" for n, one, many in counts)


def _hours(day: Day) -> str:
    hours = day.shop.hours
    days = "every day" if hours.days is None else ", ".join(d for d in WEEKDAYS if d in hours.days)
    breaks = ", ".join(f"{clock(a)}-{clock(b)}" for a, b in hours.breaks)
    pause = f", breaks {breaks}" if breaks else ""
    return (
        f"Open {clock(hours.open)}-{clock(hours.close)}, {days}{pause}; planning begins {day.start:%a %Y-%m-%d %H:%M}"
    )


def clock(seconds: int) -> str:
    """Seconds after midnight as HH:MM, with seconds only where there are some."""
    minutes, rest = divmod(seconds, 60)
    return f"{minutes // 60:02d}:{minutes % 60:02d}" + (f":{rest:02d}" if rest else "")


def _press(day: Day, press: Press) -> str:
    degree, length = day.shop.units.temperature, day.shop.units.length
    lo, hi = press.temperature
    stations = f", {press.stations} stations" if press.stations > 1 else ""
    opens = "opens by itself" if press.auto_open else "opened by hand"
    pressures = ", ".join(day.press_pressures(press.id))
    size = f"{press.platen[0]:g} × {press.platen[1]:g} {length}"
    return f"Press {press.id}: platen {size}{stations}, {lo:g} to {hi:g} °{degree}, {opens}, pressure {pressures}"


def _person(day: Day, person: Person) -> str:
    hours = day.shop.hours
    opens = hours.open if person.open is None else person.open
    closes = hours.close if person.close is None else person.close
    presses = "all presses" if person.presses is None else ", ".join(person.presses)
    pace = f", pace {person.pace:g}" if person.pace != 1 else ""
    return f"{person.id}: {clock(opens)}-{clock(closes)}, {presses}{pace}"


def _film(day: Day, film: Film) -> str:
    window = inward(film.temperature.lo, film.temperature.hi)
    degrees = f"{window} °{day.shop.units.temperature}" if window else "no whole degree"
    dwell = film.dwell_s.seconds(day.shop.rules.late_open_s)
    pressure = " or ".join(film.pressure) if film.pressure else "any"
    peel = f"{film.peel} peel {film.peel_window} s after opening"
    return f"Film {film.id}: {degrees}, {dwell} s, pressure {pressure}, {peel}"


def _apart(day: Day) -> Iterator[str]:
    pairs = films_apart(day)
    for a, b, why in pairs[:MOST_PAIRS]:
        yield f"Never at one setting: {a.id} and {b.id} ({why})"
    if len(pairs) > MOST_PAIRS:
        yield f"and {len(pairs) - MOST_PAIRS} more pairs of films that never share a setting"


def _times(day: Day) -> Iterator[str]:
    late = [order.id for order in day.orders.values() if order.due is not None and order.due <= day.start]
    if all(order.due is None for order in day.orders.values()):
        yield "no order has a due time, so nothing can be late"
    if late:
        yield f"due before planning begins: {named('order', late)}"
    opening = open_hours(day)
    end = opening[-1][1] if opening else 0
    beyond = [line.order for line in day.lines if line.ready is not None and day.seconds(line.ready) >= end]
    if beyond:
        yield f"ready only after the two weeks that are planned: {named('order', dict.fromkeys(beyond))}"


def _idle_things(day: Day) -> Iterator[str]:
    films = {film.id for film in used_films(day)}
    garments, designs = {line.garment for line in day.lines}, {line.design for line in day.lines}
    for kind, ids, used in (
        ("film", day.films, films),
        ("garment", day.garments, garments),
        ("design", day.design, designs),
    ):
        spare = [name for name in ids if name not in used]
        if spare:
            yield f"not in today's orders: {named(kind, spare)}"


def _presence(day: Day) -> Iterator[str]:
    for person in day.shop.person:
        if not person_windows(day, person.id):
            yield f"{person.id} is never there while the shop is open"
    for press in day.shop.press:
        if not press_windows(day, press.id):
            yield f"press {press.id} is away all the time"
        if not any(person.presses is None or press.id in person.presses for person in day.shop.person):
            yield f"nobody works press {press.id}"


def _figures(day: Day) -> Iterator[str]:
    degree = day.shop.units.temperature
    for film in used_films(day):
        if to_celsius(film.temperature.hi, degree) < COOLEST_C:
            yield f"film {film.id} is pressed at {film.temperature.hi:g} °{degree} at most; is that the right unit?"
    for name in dict.fromkeys(line.garment for line in day.lines):
        if day.garments[name].limit(degree) is None:
            yield f"garment {name} has no limit (max_temperature or iron)"


def _art(day: Day) -> Iterator[str]:
    for place, layer in _layers(day):
        width, height = extent(layer)
        roll = day.films[layer.film].roll
        if roll and not (width <= roll[0] and height <= roll[1]) and not (height <= roll[0] and width <= roll[1]):
            yield f"the art on {place.at}, {width:g} × {height:g}, is larger than the roll of {layer.film}"
        if place.size and not _within(layer, place.size):
            yield f"art of {layer.film} on {place.at} reaches beyond the placement's size"


def _within(layer: Layer, size: tuple[float, float]) -> bool:
    xs, ys = _corners(layer)
    return min(xs) >= -1e-9 and min(ys) >= -1e-9 and max(xs) <= size[0] + 1e-9 and max(ys) <= size[1] + 1e-9


def extent(layer: Layer) -> tuple[float, float]:
    """Width and height of a layer's art, shop's length unit."""
    xs, ys = _corners(layer)
    return (max(xs) - min(xs), max(ys) - min(ys))


def _corners(layer: Layer) -> tuple[list[float], list[float]]:
    if layer.box is not None:
        x, y, width, height = layer.box
        return [x, x + width], [y, y + height]
    points = layer.outline or ()
    return [x for x, _ in points], [y for _, y in points]


def _spare_names(day: Day) -> Iterator[str]:
    personal = {line.key for line in day.lines if day.design[line.design].personal}
    spare = dict.fromkeys(row.order for row in day.names if (row.order, row.line) not in personal)
    if spare:
        yield f"names.csv names pieces that have no personal layer: {named('order', spare)}"


def _layers(day: Day) -> Iterator[tuple[Placement, Layer]]:
    """Every layer of the ordered designs, each design once."""
    for name in dict.fromkeys(line.design for line in day.lines):
        for place in day.design[name].placement:
            for layer in place.layer:
                yield place, layer


def named(kind: str, names: Sequence[str] | dict[str, None], most: int = 8) -> str:
    """film a; films a, b, c and 4 more."""
    known = list(names)
    more = f" and {len(known) - most} more" if len(known) > most else ""
    return f"{kind}{'s' if len(known) > 1 else ''} {', '.join(known[:most])}{more}"
