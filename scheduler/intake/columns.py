"""What each column of the tables of orders and names means, as a person reads it beside the table."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Column:
    """A column: its unit or kind, what a blank cell counts as ("": it is needed), and what it means."""

    unit: str
    blank: str
    meaning: str

    @property
    def words(self) -> str:
        """All of it in a sentence or two."""
        kind = f" ({self.unit})" if self.unit else ""
        blank = f"Left blank: {self.blank}." if self.blank else "Needed."
        return f"{self.meaning[:1].upper()}{self.meaning[1:]}{kind}. {blank}"


NEEDED = ""

ORDERS: Mapping[str, Column] = {
    "order": Column("", NEEDED, "the order's name"),
    "customer": Column("", "nobody named", "for whom"),
    "line": Column("", "1, 2, … within the order", "the line's name"),
    "garment": Column("an id", NEEDED, "which garment, from catalog.toml"),
    "size": Column("", "none", "free text"),
    "quantity": Column("pieces", NEEDED, "how many"),
    "design": Column("an id", NEEDED, "which design, from designs.toml"),
    "ready": Column("date and time, as 2026-12-01 08:00", "at once", "when the blanks are there"),
    "due": Column(
        "date and time, as 2026-12-01 15:00",
        "no due time",
        "when the order is wanted; of its lines the earliest counts",
    ),
    "priority": Column("", "1", "2 counts a late minute twice; of its lines the highest counts"),
}
NAMES: Mapping[str, Column] = {
    "order": Column("", NEEDED, "as in the orders"),
    "line": Column("", NEEDED, "as in the orders, or its number where that is blank"),
    "piece": Column("", NEEDED, "the number within the line, from 1"),
    "name": Column("", "no name", "what is cut"),
    "number": Column("", "no number", "what is cut"),
}


def columns_text(orders: str) -> str:
    """columns.txt of a starter folder: the columns of the file of orders and of names.csv, a line each."""
    return "\n".join(
        [
            "The columns of the tables in this folder. A table can hold no comments, so they stand here.",
            "",
            f"{orders}: one row for each line of an order",
            *_lines(ORDERS),
            "",
            "names.csv: one row for each piece with its own name or number; without such pieces take the file away",
            *_lines(NAMES),
            "",
        ]
    )


def _lines(columns: Mapping[str, Column]) -> list[str]:
    return [f"  {name:<10}{column.words}" for name, column in columns.items()]
