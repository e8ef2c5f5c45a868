"""A placement drawn as inline SVG: what is laid now, and what lies there already."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from html import escape

from models.design import Layer, Placement
from scheduler.breakdown.geometry import bounds

_SIDE = 150.0  # of the longer side of the art, in units of the drawing
_EDGE = 6.0

Point = tuple[float, float]


def placement_drawing(place: Placement, now: Collection[int], before: Collection[int], unit: str) -> str:
    """The art of a placement as SVG: layers laid now dark with their number, earlier ones pale, later ones left out.

    Layers are numbered from 1. As in designs.toml x runs to the right and y upwards, seen as the garment lies on the
    platen with its collar at the top; SVG's y runs downwards, so it is turned here. A personal layer, whose cut
    differs from piece to piece, has a broken outline. `unit` is the length unit told under the drawing.
    """
    left, low, right, high = bounds(place.layer)
    scale = _SIDE / max(right - left, high - low)
    width, height = (right - left) * scale, (high - low) * scale

    def turned(point: Point) -> Point:
        return (point[0] - left) * scale + _EDGE, (high - point[1]) * scale + _EDGE

    shapes, numbers = [], []
    for number, layer in enumerate(place.layer, 1):
        if number in now or number in before:
            shapes.append(_shape(layer, [turned(point) for point in _corners(layer)], number in now))
        if number in now:
            later = [other for n, other in enumerate(place.layer, 1) if n > number and n in now]
            numbers.append(_number(number, turned(_inside(layer, later))))
    box = f"0 0 {_figure(width + 2 * _EDGE)} {_figure(height + 2 * _EDGE)}"
    frame = f'<rect class="frame" x="1" y="1" width="{_figure(width + 10)}" height="{_figure(height + 10)}"/>'
    size = f"{right - left:g} × {high - low:g} {unit}"
    return (
        f'<figure class="art"><svg viewBox="{box}" role="img" aria-label="{escape(_words(place, now, before))}">'
        f"{frame}{''.join(shapes)}{''.join(numbers)}</svg><figcaption>{escape(size)}</figcaption></figure>"
    )


def _shape(layer: Layer, points: Sequence[Point], now: bool) -> str:
    style = ("now" if now else "before") + (" personal" if layer.personal else "")
    at = " ".join(f"{_figure(x)},{_figure(y)}" for x, y in points)
    return f'<polygon class="{style}" points="{at}"/>'


def _number(number: int, at: Point) -> str:
    return f'<text x="{_figure(at[0])}" y="{_figure(at[1])}" dy=".35em">{number}</text>'


def _corners(layer: Layer) -> Sequence[Point]:
    if layer.box is None:
        return layer.outline or ()
    x, y, width, height = layer.box
    return (x, y), (x + width, y), (x + width, y + height), (x, y + height)


def _inside(layer: Layer, later: Sequence[Layer]) -> Point:
    """A point well within the art that stays in sight, also of art that bends round a hollow or lies under more."""
    from shapely import Polygon, make_valid, union_all

    art = make_valid(Polygon(_corners(layer)))
    seen = art.difference(union_all([make_valid(Polygon(_corners(other))) for other in later]))
    point = (art if seen.is_empty else seen).representative_point()
    return (point.x, point.y)


def _words(place: Placement, now: Collection[int], before: Collection[int]) -> str:
    count = range(1, len(place.layer) + 1)
    laid = ", ".join(f"layer {n} {place.layer[n - 1].film}" for n in count if n in now) or "nothing"
    there = ", ".join(str(n) for n in count if n in before and n not in now)
    return f"{place.at}: laid now: {laid}" + (f"; there already: {there}" if there else "")


def _figure(value: float) -> str:
    return f"{value:.1f}".removesuffix(".0")
