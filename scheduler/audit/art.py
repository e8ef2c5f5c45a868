"""Where art overlaps, what lies under whose carrier sheet, and how large a placement is."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import Any

from models.design import Layer, Placement

_AREA = 1e-9  # a common area up to this is touching, not overlapping

Pair = tuple[int, int]


def _shape(layer: Layer) -> Any:
    import shapely

    if layer.box is not None:
        x, y, width, height = layer.box
        return shapely.box(x, y, x + width, y + height)
    return shapely.make_valid(shapely.Polygon(layer.outline))


def _meets(a: Any, b: Any) -> bool:
    return bool(a.intersects(b) and a.intersection(b).area > _AREA)


def _covers(layer: Layer, shape: Any, carrier: float, other: Any) -> bool:
    """Whether a layer's carrier sheet reaches over another's art: a box grows as a box, an outline all round."""
    import shapely

    if _meets(shape, other):
        return True
    if carrier <= 0:
        return False
    if layer.box is None:
        return bool(shape.distance(other) < carrier - _AREA)
    x, y, width, height = layer.box
    return _meets(shapely.box(x - carrier, y - carrier, x + width + carrier, y + height + carrier), other)


@lru_cache(maxsize=4096)
def overlaps(placement: Placement) -> frozenset[Pair]:
    """Pairs of layers (lower, upper; numbered from 1) whose art has an area in common."""
    shapes = [_shape(layer) for layer in placement.layer]
    count = range(len(shapes))
    return frozenset((i + 1, j + 1) for i in count for j in count if i < j and _meets(shapes[i], shapes[j]))


@lru_cache(maxsize=4096)
def covered(placement: Placement, carriers: tuple[float, ...]) -> frozenset[Pair]:
    """Pairs (a, b; numbered from 1) where the carrier sheet of a lies over the art of b."""
    shapes = [_shape(layer) for layer in placement.layer]
    return frozenset(
        (i + 1, j + 1)
        for i, layer in enumerate(placement.layer)
        for j in range(len(shapes))
        if i != j and _covers(layer, shapes[i], carriers[i], shapes[j])
    )


@lru_cache(maxsize=4096)
def extent(placement: Placement) -> tuple[float, float]:
    """Width and height of a placement: its size, or left out, that of all its art."""
    if placement.size is not None:
        return placement.size
    xs: list[float] = []
    ys: list[float] = []
    for layer in placement.layer:
        if layer.box is not None:
            xs += [layer.box[0], layer.box[0] + layer.box[2]]
            ys += [layer.box[1], layer.box[1] + layer.box[3]]
        for x, y in layer.outline or ():
            xs.append(x)
            ys.append(y)
    return max(xs) - min(xs), max(ys) - min(ys)


def fits(size: tuple[float, float], platen: tuple[float, float]) -> bool:
    """Whether a size fits the platen one way round or the other."""
    small, large = sorted(size), sorted(platen)
    return small[0] <= large[0] + 1e-9 and small[1] <= large[1] + 1e-9


def pieces_on(platen: tuple[float, float], footprint: tuple[float, float] | None) -> int:
    """Most pieces on a platen at once: a grid with all of them the same way round, either way; no footprint: one."""
    if footprint is None:
        return 1
    width, height = footprint
    ways = ((width, height), (height, width))
    return max(math.prod(math.floor(p / f + 1e-9) for p, f in zip(platen, way, strict=True)) for way in ways)
