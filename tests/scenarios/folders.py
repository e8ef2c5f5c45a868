"""Reads a scenario's files with the models and common libraries alone, apart from the program's own intake."""

from __future__ import annotations

import csv
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

import openpyxl

from models.catalog import Catalog, Film, Garment
from models.design import Design, Designs
from models.order import NameRow, OrderLine
from models.shop import Shop

ROOT = Path(__file__).parents[2]
SCENARIOS = ROOT / "scenarios"
NAMES = ("team-shirts", "two-presses", "fair-weekend", "mixed-peels", "celsius-studio")
COLUMNS = ["order", "customer", "line", "garment", "size", "quantity", "design", "ready", "due", "priority"]


@dataclass(frozen=True)
class Folder:
    """A scenario's folder; every property reads its file when first asked for."""

    path: Path

    @cached_property
    def shop(self) -> Shop:
        """shop.toml."""
        return Shop.model_validate(self._toml("shop.toml"))

    @cached_property
    def films(self) -> dict[str, Film]:
        """Films by id."""
        return {film.id: film for film in self._catalog.film}

    @cached_property
    def garments(self) -> dict[str, Garment]:
        """Garments by id."""
        return {garment.id: garment for garment in self._catalog.garment}

    @cached_property
    def designs(self) -> dict[str, Design]:
        """Designs by id."""
        return {d.id: d for d in Designs.model_validate(self._toml("designs.toml")).design}

    @cached_property
    def lines(self) -> list[OrderLine]:
        """Rows of orders.csv or orders.xlsx; blank lines numbered in file order within the order."""
        counts: dict[str, int] = {}
        lines = []
        for row in self._order_rows():
            given = {
                key: str(value) if key in _TEXT else value for key, value in row.items() if value not in (None, "")
            }
            counts[given["order"]] = counts.get(given["order"], 0) + 1
            lines.append(OrderLine.model_validate({"line": str(counts[given["order"]]), **given}))
        return lines

    @cached_property
    def names(self) -> list[NameRow]:
        """Rows of names.csv; none where there is no such file."""
        path = self.path / "names.csv"
        if not path.exists():
            return []
        with path.open(encoding="utf-8", newline="") as file:
            return [NameRow.model_validate(row) for row in csv.DictReader(file)]

    @cached_property
    def note(self) -> str:
        """The folder's own README."""
        return (self.path / "README.md").read_text(encoding="utf-8")

    @cached_property
    def _catalog(self) -> Catalog:
        return Catalog.model_validate(self._toml("catalog.toml"))

    def _toml(self, name: str) -> dict[str, Any]:
        return tomllib.loads((self.path / name).read_text(encoding="utf-8"))

    def _order_rows(self) -> Iterator[dict[str, Any]]:
        sheet = self.path / "orders.xlsx"
        if sheet.exists():
            rows = openpyxl.load_workbook(sheet, data_only=True).active.iter_rows(values_only=True)
            header = next(rows)
            yield from (dict(zip(header, row, strict=True)) for row in rows)
        else:
            with (self.path / "orders.csv").open(encoding="utf-8", newline="") as file:
                yield from csv.DictReader(file)


_TEXT = ("order", "customer", "line", "garment", "size", "design")


def folder(name: str) -> Folder:
    """The scenario with this name."""
    return Folder(SCENARIOS / name)
