"""Names in one file that must stand in another, held against every id written there, right or wrong otherwise."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass, field
from typing import Any

from scheduler.intake.findings import Findings, nearest, show, suggest
from scheduler.intake.orders import Named, Written
from scheduler.intake.toml import Table, ids, tables, text_of, texts_of

MANY = 300  # beyond so many problems nobody reads on, and looking for near names would take long


@dataclass
class Raw:
    """What was read, file by file; None where a file could not be read at all."""

    shop: Table | None = None
    catalog: Table | None = None
    designs: Table | None = None
    orders: str = "orders.csv"  # the file that holds the order lines
    lines: list[Written] | None = None
    names: list[Named] | None = field(default_factory=list)
    names_file: bool = False


def check_references(raw: Raw, found: Findings) -> None:
    """Note every name that nobody knows, with the nearest ones."""
    _presses(raw, found)
    _people(raw, found)
    _layers(raw, found)
    _pressures(raw, found)
    _orders(raw, found)
    _names(raw, found)


def placement_names(designs: Any) -> list[str]:
    """Every placement of every design, once each."""
    return list(dict.fromkeys(name for d in tables(designs, "design") for name in ids(d, "placement", "at")))


def design_films(designs: Any) -> dict[str, list[str]]:
    """The films each design lays, by the design's id."""
    return {
        name: [film for place in tables(design, "placement") for film in ids(place, "layer", "film")]
        for design in tables(designs, "design")
        if (name := text_of(design, "id")) is not None
    }


def personal_designs(designs: Any) -> set[str]:
    """The designs in which a layer has its own cut for each piece."""
    return {
        name
        for design in tables(designs, "design")
        if (name := text_of(design, "id")) is not None
        and any(layer.get("personal") is True for p in tables(design, "placement") for layer in tables(p, "layer"))
    }


def label(kind: str, number: int, item: Table, field: str = "id") -> str:
    """[[film]] 3 "gold-glitter"."""
    name = text_of(item, field)
    return f"[[{kind}]] {number} {show(name)}" if name else f"[[{kind}]] {number}"


def _unknown(
    name: str,
    known: Collection[str] | None,
    what: str,
    place: tuple[str, str, str],
    found: Findings,
    quote: bool = True,
) -> None:
    """Note a name that is not among the known; nothing where what is known could not be read."""
    if known and name not in known:
        file, where, field = place
        right = suggest(name, known, what) if len(found) < MANY else "Write one that is there"
        found.add(file, where, field, show(name) if quote else name, f"there is no such {what}", right)


def labelled(node: Any, kind: str) -> Iterator[tuple[str, Table]]:
    """The [[kind]] tables, each with its place in words."""
    for number, item in enumerate(tables(node, kind), 1):
        yield label(kind, number, item), item


def parts(node: Any, kind: str, where: str, field: str) -> Iterator[tuple[str, Table]]:
    """The tables of a kind inside another table, each with its place in words."""
    for number, item in enumerate(tables(node, kind), 1):
        name = text_of(item, field)
        yield f"{where}, {kind} {number}" + (f" {show(name)}" if name else ""), item


def _presses(raw: Raw, found: Findings) -> None:
    garments = None if raw.catalog is None else ids(raw.catalog, "garment")
    places = None if raw.designs is None else placement_names(raw.designs)
    for where, press in labelled(raw.shop, "press"):
        for name in texts_of(press, "garments"):
            _unknown(name, garments, "garment in catalog.toml", ("shop.toml", where, "garments"), found)
        for name in texts_of(press, "placements"):
            _unknown(name, places, "placement in designs.toml", ("shop.toml", where, "placements"), found)


def _people(raw: Raw, found: Findings) -> None:
    presses = ids(raw.shop, "press")
    for where, person in labelled(raw.shop, "person"):
        for name in texts_of(person, "presses"):
            _unknown(name, presses, "press", ("shop.toml", where, "presses"), found)


def _layers(raw: Raw, found: Findings) -> None:
    films = None if raw.catalog is None else dict.fromkeys(ids(raw.catalog, "film"))
    for where, design in labelled(raw.designs, "design"):
        for spot, place in parts(design, "placement", where, "at"):
            for layer_number, layer in enumerate(tables(place, "layer"), 1):
                name = layer.get("film")
                if isinstance(name, str):
                    there = ("designs.toml", f"{spot}, layer {layer_number}", "film")
                    _unknown(name.strip(), films, "film in catalog.toml", there, found)


def _pressures(raw: Raw, found: Findings) -> None:
    """A film none of whose words is on a press cannot be pressed; an odd word near a press's is a slip."""
    presses = tables(raw.shop, "press")
    if not presses or any("pressures" not in press for press in presses):
        return
    words = list(dict.fromkeys(word for press in presses for word in texts_of(press, "pressures")))
    if not words:
        return
    for where, film in labelled(raw.catalog, "film"):
        wanted = texts_of(film, "pressure")
        fits = any(word in words for word in wanted)
        for word in wanted:
            if word not in words and not (fits and not nearest(word, words, 1)):
                wrong = "no press can be set to this pressure"
                found.add("catalog.toml", where, "pressure", show(word), wrong, suggest(word, words, "pressure"))


def _orders(raw: Raw, found: Findings) -> None:
    garments = None if raw.catalog is None else dict.fromkeys(ids(raw.catalog, "garment"))
    designs = None if raw.designs is None else dict.fromkeys(ids(raw.designs, "design"))
    for line in raw.lines or ():
        if line.garment:
            there = (raw.orders, line.row.where, "garment")
            _unknown(line.garment, garments, "garment in catalog.toml", there, found, quote=False)
        if line.design:
            there = (raw.orders, line.row.where, "design")
            _unknown(line.design, designs, "design in designs.toml", there, found, quote=False)


def _names(raw: Raw, found: Findings) -> None:
    if not raw.lines:
        return
    by_order: dict[str, dict[str, Written]] = {}
    for line in raw.lines:
        if line.order:
            by_order.setdefault(line.order, {}).setdefault(line.line, line)
    for row in raw.names or ():
        lines = by_order.get(row.order)
        place = ("names.csv", row.row.where, "order")
        if row.order:
            _unknown(row.order, by_order, f"order in {raw.orders}", place, found, quote=False)
        if lines is None or not row.line:
            continue
        place = ("names.csv", row.row.where, "line")
        _unknown(row.line, lines, f"line of order {show(row.order)}", place, found, quote=False)
        quantity = lines[row.line].quantity if row.line in lines else None
        if quantity and row.piece is not None and row.piece > quantity:
            wrong = f"order {show(row.order)} line {show(row.line)} has only {quantity} pieces"
            found.add("names.csv", row.row.where, "piece", str(row.piece), wrong, f"Write 1 to {quantity}")


def check_personal(raw: Raw, found: Findings) -> None:
    """Every piece of a line with a personal layer has its row in names.csv; one problem a line."""
    if raw.names is None or raw.lines is None:
        return
    personal = personal_designs(raw.designs)
    named: dict[tuple[str, str], set[int]] = {}
    for row in raw.names:
        named.setdefault(row.key, set()).add(row.piece or 0)
    for line in raw.lines:
        if line.design in personal and line.quantity and line.order:
            missing = sorted(set(range(1, line.quantity + 1)) - named.get(line.key, set()))
            if missing:
                _nameless(line, missing, raw, found)


def _nameless(line: Written, missing: list[int], raw: Raw, found: Findings) -> None:
    where = f"order {show(line.order)}, line {show(line.line)}"
    which = f"piece{'s' if len(missing) > 1 else ''} {spans(missing)} of {line.quantity}"
    lacks = f"{which} {'have' if len(missing) > 1 else 'has'} no row"
    if len(missing) == line.quantity:
        lacks = f"none of its {line.quantity} pieces has a row" if line.quantity > 1 else "its piece has no row"
    file = "" if raw.names_file else " (there is no names.csv)"
    wrong = f"design {show(line.design)} has a layer cut for each piece, but {lacks}{file}"
    right = "Write a row order,line,piece,name,number for each of them in names.csv"
    found.add("names.csv", where, "piece", "", wrong, right)


def spans(numbers: Iterable[int]) -> str:
    """1, 2, 3, 7 as "1-3, 7"."""
    runs: list[list[int]] = []
    for number in numbers:
        if runs and number == runs[-1][1] + 1:
            runs[-1][1] = number
        else:
            runs.append([number, number])
    return ", ".join(str(a) if a == b else f"{a}-{b}" for a, b in runs)
