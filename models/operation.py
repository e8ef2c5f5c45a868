"""One closing of a press, the route of a piece through its closings, and what one loading may hold."""

from __future__ import annotations

import math
from dataclasses import dataclass

from models.catalog import Peel
from models.units import Window


@dataclass(frozen=True, slots=True)
class CoolTo:
    """Not peeled before the garment has fallen to `below`: first-order, time constant `tau_s` seconds."""

    below: float
    tau_s: float

    def seconds(self, setpoint: float, room: float) -> int:
        """Newton's law of cooling, lumped: ceil(tau ln((set-point - room) / (below - room))) (contract 4)."""
        if setpoint <= self.below:
            return 0
        return max(0, math.ceil(self.tau_s * math.log((setpoint - room) / (self.below - room)) - 1e-9))


@dataclass(frozen=True, slots=True)
class Operation:
    """One closing on one placement with the layers laid for it (none: a repress). Times in seconds.

    `number` counts from 1 within the placement, `layers` are numbered from 1 within it. `align_s` and
    `peel_s` are hand times for one piece, summed over the operation's layers.
    """

    placement: str
    number: int
    layers: tuple[int, ...]
    films: tuple[str, ...]
    temperature: Window
    dwell: Window
    pressures: tuple[str, ...]
    peel: Peel | None
    peel_after: Window | None
    cool_to: tuple[CoolTo, ...]
    align_s: float
    peel_s: float
    cover_sheet: bool
    prepress: Window | None = None  # where this is the placement's first closing and the garment wants one

    @property
    def repress(self) -> bool:
        """Whether this is a closing without layers."""
        return not self.layers

    def peel_window(self, setpoint: float, room: float) -> Window | None:
        """Earliest and latest start of the peel, seconds after opening; None where nothing is peeled."""
        if self.peel_after is None:
            return None
        lo = max([self.peel_after.lo, *(c.seconds(setpoint, room) for c in self.cool_to)])
        return Window(lo, self.peel_after.hi)


@dataclass(frozen=True, slots=True)
class Route:
    """The closings of one garment with one design, in a legal order, with windows that hold in it.

    `load_s` and `unload_s` are hand times for one piece. `sizes` gives each placement's extent and
    `footprint` what a piece takes up, shop's length unit. `warnings` are plain sentences.
    """

    garment: str
    design: str
    operations: tuple[Operation, ...]
    sizes: dict[str, tuple[float, float]]
    load_s: float
    unload_s: float
    footprint: tuple[float, float] | None = None
    warnings: tuple[str, ...] = ()

    def capacity(self, platen: tuple[float, float], placement: str) -> int:
        """Pieces one loading holds on this platen: 0 where the placement or the piece does not fit.

        With a footprint, the most that fit in a grid with all pieces the same way round.
        """
        if not _fits(self.sizes[placement], platen):
            return 0
        if self.footprint is None:
            return 1
        width, height = self.footprint
        return max(_grid(platen, width, height), _grid(platen, height, width))


def _fits(size: tuple[float, float], platen: tuple[float, float]) -> bool:
    return bool(_grid(platen, *size) or _grid(platen, size[1], size[0]))


def _grid(platen: tuple[float, float], width: float, height: float) -> int:
    return math.floor(platen[0] / width + 1e-9) * math.floor(platen[1] / height + 1e-9)
