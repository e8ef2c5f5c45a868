"""orders.csv and names.csv: lines of orders, and the name and number of each personalised piece."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from pydantic import Field

from models.base import MAX_QUANTITY, Name, Strict
from models.shop import Moment


class OrderLine(Strict):
    """One row of orders.csv. `ready` None: at once. `due` None: no due time."""

    order: Name
    customer: str = Field(default="", max_length=200)
    line: Name
    garment: str
    size: str = Field(default="", max_length=80)
    quantity: int = Field(ge=1, le=MAX_QUANTITY)
    design: str
    ready: Moment | None = None
    due: Moment | None = None
    priority: float = Field(default=1.0, gt=0, le=1000)

    @property
    def key(self) -> tuple[str, str]:
        """(order, line), unique in a day."""
        return (self.order, self.line)

    def piece(self, number: int) -> str:
        """The name of the piece with this number, from 1: <order>-<line>-<nnn>."""
        return f"{self.order}-{self.line}-{number:03d}"

    @property
    def pieces(self) -> tuple[str, ...]:
        """The names of all pieces of the line."""
        return tuple(self.piece(n) for n in range(1, self.quantity + 1))


class NameRow(Strict):
    """One row of names.csv: what is cut for the piece with this number within the line."""

    order: str
    line: str
    piece: int = Field(ge=1, le=MAX_QUANTITY)
    name: str = Field(default="", max_length=80)
    number: str = Field(default="", max_length=20)


@dataclass(frozen=True, slots=True)
class Order:
    """An order as a whole: finished when all its lines are (contract, section 1)."""

    id: str
    customer: str
    lines: tuple[OrderLine, ...]

    @property
    def quantity(self) -> int:
        """Pieces over all lines."""
        return sum(line.quantity for line in self.lines)

    @property
    def due(self) -> datetime | None:
        """The earliest due time of its lines, None where none has one."""
        return min((line.due for line in self.lines if line.due is not None), default=None)

    @property
    def ready(self) -> datetime | None:
        """The latest ready time of its lines, None where all are there at once."""
        return max((line.ready for line in self.lines if line.ready is not None), default=None)

    @property
    def priority(self) -> float:
        """The highest priority of its lines."""
        return max(line.priority for line in self.lines)
