"""Where layers' art lies: what overlaps, what lies under a carrier sheet, how far it reaches.

Lengths in the shop's unit. Only `stack` needs shapely, and loads it when it is called.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Any

from models.design import Layer, Placement

# A common area no larger than this is a touching edge.
TOUCH = 1e-9

Bounds = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class Stack:
    """How the layers of one placement lie to each other, by index from 0, pairs with the lower first.

    `overlaps`: their art has an area in common. `covered`: one's art lies under the other's carrier
    sheet. `empty`: layers whose art encloses no area.
    """

    overlaps: frozenset[tuple[int, int]]
    covered: frozenset[tuple[int, int]]
    empty: tuple[int, ...]


def stack(layers: Sequence[Layer], carriers: Sequence[float]) -> Stack:
    """Overlaps and carriers of layers; `carriers` gives how far each one's sheet reaches beyond its art."""
    art = [_shape(layer) for layer in layers]
    pairs = list(combinations(range(len(layers)), 2))
    return Stack(
        overlaps=frozenset((i, j) for i, j in pairs if _meet(art[i], art[j])),
        covered=frozenset(
            (i, j)
            for i, j in pairs
            if _under(layers[i], art[i], carriers[i], art[j]) or _under(layers[j], art[j], carriers[j], art[i])
        ),
        empty=tuple(i for i, shape in enumerate(art) if shape.area <= TOUCH),
    )


def bounds(layers: Iterable[Layer]) -> Bounds:
    """The smallest rectangle round all the art: left, bottom, right, top."""
    xs, ys = [], []
    for layer in layers:
        for x, y in _corners(layer):
            xs.append(x)
            ys.append(y)
    return min(xs), min(ys), max(xs), max(ys)


def extent(layers: Iterable[Layer]) -> tuple[float, float]:
    """Width and height of the smallest rectangle round all the art."""
    left, bottom, right, top = bounds(layers)
    return right - left, top - bottom


def size(placement: Placement) -> tuple[float, float]:
    """What must fit the platen: the placement's size, or where it is left out the extent of its art."""
    return placement.size or extent(placement.layer)


def fits_within(inner: tuple[float, float], outer: tuple[float, float]) -> bool:
    """Whether a rectangle fits in another one either way round."""
    return any(w <= outer[0] + TOUCH and h <= outer[1] + TOUCH for w, h in (inner, inner[::-1]))


def _corners(layer: Layer) -> tuple[tuple[float, float], ...]:
    if layer.box is None:
        assert layer.outline is not None
        return layer.outline
    x, y, width, height = layer.box
    return (x, y), (x + width, y + height)


def _shape(layer: Layer) -> Any:
    from shapely import Polygon, box, make_valid

    if layer.box is not None:
        x, y, width, height = layer.box
        return box(x, y, x + width, y + height)
    # An outline that crosses or touches itself still has an area: take what it encloses.
    return make_valid(Polygon(layer.outline))


def _meet(a: Any, b: Any) -> bool:
    return bool(a.intersects(b)) and bool(a.intersection(b).area > TOUCH)


def _under(layer: Layer, art: Any, carrier: float, other: Any) -> bool:
    """Whether `other` lies under the sheet: a box grows as a box, an outline by shortest distance."""
    if layer.box is None:
        return bool(art.distance(other) < carrier - TOUCH) or _meet(art, other)
    from shapely import box

    left, bottom, right, top = art.bounds
    return _meet(box(left - carrier, bottom - carrier, right + carrier, top + carrier), other)
