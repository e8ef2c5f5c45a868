"""Set-points in classes: which runs suit, and the least that going from one class to another takes.

Between two neighbouring ends of windows every whole degree suits the same runs, so all of them make one cell,
[low, high] with a pressure. Whatever set-points a plan takes, each lies in one cell (a stretch that runs nothing
needs no setting). From a cell to another a press travels at least from the near edge of the one to the near edge
of the other, and settles; within a cell a change of set-point may take no time at all.
"""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from scheduler import thermal
from scheduler.instance import Instance
from scheduler.solving.loads import Part, RunFit


@dataclass(frozen=True, slots=True)
class Cell:
    """Set-points low to high, whole degrees, at one pressure."""

    low: int
    high: int
    pressure: str

    def suits(self, fit: RunFit) -> bool:
        """Whether a run may be pressed anywhere in the cell."""
        return fit.lo <= self.low and self.high <= fit.hi and self.pressure in fit.pressures


def cells_of(parts: Iterable[Part], press: int) -> tuple[Cell, ...]:
    """The cells of a press in which something can be pressed; where two suit the same runs, each is kept."""
    fits = {run.fits[press] for part in parts for run in part.runs if press in run.fits}
    edges = sorted({fit.lo for fit in fits} | {fit.hi + 1 for fit in fits})
    words = sorted({word for fit in fits for word in fit.pressures})
    cells = [Cell(a, b - 1, word) for a, b in itertools.pairwise(edges) for word in words]
    return tuple(cell for cell in cells if any(cell.suits(fit) for fit in fits))


def least_travel(instance: Instance, press: int, low: Cell, high: Cell) -> tuple[int, int]:
    """Seconds (up from the lower cell to the higher, down from it) at least, without settling; rounded down."""
    if low.high >= high.low:
        return 0, 0
    machine = instance.day.shop.press[press]
    up = thermal.heating_seconds(machine, low.high, high.low)
    down = thermal.cooling_seconds(machine, high.low, low.high, instance.room)
    return math.floor(up), 2_000_000 if math.isinf(down) else math.floor(down)


def least_warm_up(instance: Instance, press: int, shown: float, cell: Cell) -> int:
    """Seconds from a press's temperature to somewhere in the cell at least."""
    if cell.low <= shown <= cell.high:
        return 0
    if instance.presses[press].stands.off_since is not None and cell.low < shown:
        return 0  # it cools by itself
    return min(instance.warm_up(press, shown, (point, "")) for point in (cell.low, cell.high))


def suiting(cells: Sequence[Cell], fit: RunFit) -> list[int]:
    """The cells that suit a run, by number."""
    return [n for n, cell in enumerate(cells) if cell.suits(fit)]
