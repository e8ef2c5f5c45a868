"""Names that stand twice, or so alike that people would mix them up."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from scheduler.intake.findings import Findings, show
from scheduler.intake.orders import Named, Written
from scheduler.intake.toml import tables, text_of


def ids_once(raw: Any, file: str, key: str, found: Findings) -> None:
    """Ids of the [[key]] tables differ by more than their case."""
    _once([text_of(item, "id") for item in tables(raw, key)], file, f"[[{key}]]", "id", found)


def places_once(designs: Any, found: Findings) -> None:
    """A design names each placement once."""
    for number, design in enumerate(tables(designs, "design"), 1):
        label = f"[[design]] {number} {show(text_of(design, 'id'))}".rstrip()
        places = [text_of(place, "at") for place in tables(design, "placement")]
        _once(places, "designs.toml", f"{label}, placement", "at", found)


def _once(names: Sequence[str | None], file: str, where: str, field: str, found: Findings) -> None:
    first: dict[str, tuple[int, str]] = {}
    for number, name in enumerate(names, 1):
        if name is None:
            continue
        before, spelt = first.setdefault(name.casefold(), (number, name))
        if before != number:
            same = (
                "the same name stands" if spelt == name else f"a name that differs only by case, {show(spelt)}, stands"
            )
            found.add(file, f"{where} {number}", field, show(name), f"{same} already at number {before}", "Rename one")


def lines_once(written: Sequence[Written], file: str, found: Findings) -> None:
    """Every line of an order stands once, orders are spelt one way, and no two pieces get the same name."""
    spelling: dict[str, Written] = {}
    seen: dict[tuple[str, str], Written] = {}
    prefixes: dict[str, Written] = {}
    for line in written:
        if not line.order:
            continue
        other = spelling.setdefault(line.order.casefold(), line)
        if other.order != line.order:
            wrong = f"{other.row.where} spells this order {show(other.order)}"
            found.add(file, line.row.where, "order", line.order, wrong, "Spell it one way, or rename one order")
        key = (line.order.casefold(), line.line.casefold())
        before = seen.setdefault(key, line)
        if before is not line:
            wrong = f"order {show(line.order)} has this line already in {before.row.where}"
            found.add(file, line.row.where, "line", line.line, wrong, "Give it another line, or leave it blank")
            continue
        rival = prefixes.setdefault(f"{line.order}-{line.line}".casefold(), line)
        if rival is not line:
            _ambiguous(line, rival, file, found)


def _ambiguous(line: Written, rival: Written, file: str, found: Findings) -> None:
    wrong = (
        f"its pieces would be called {line.order}-{line.line}-001 and so on, "
        f"as those of order {show(rival.order)} line {show(rival.line)} in {rival.row.where}"
    )
    found.add(file, line.row.where, "line", line.line, wrong, "Rename the order or the line, without the dash")


def pieces_once(named: Sequence[Named], found: Findings) -> None:
    """Each piece is named in one row of names.csv."""
    seen: dict[tuple[str, str, int], Named] = {}
    for row in named:
        if row.piece is None:
            continue
        before = seen.setdefault((*row.key, row.piece), row)
        if before is not row:
            wrong = (
                f"this piece of order {show(row.order)} line {show(row.line)} is named already in {before.row.where}"
            )
            found.add("names.csv", row.row.where, "piece", str(row.piece), wrong, "Keep one row for each piece")
