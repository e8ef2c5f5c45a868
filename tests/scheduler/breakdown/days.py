"""Small days written out in tests: what is left out is filled with something plain."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from models.catalog import Catalog
from models.day import Day
from models.design import Designs
from models.operation import Operation, Route
from models.order import OrderLine
from models.shop import Shop
from scheduler.breakdown import break_down

Table = Mapping[str, Any]

PRESS: Table = {"id": "window", "platen": [16, 20], "temperature": [200, 430], "heat_up": 25, "cool_down": 4}
TEE: Table = {"id": "tee", "max_temperature": 400}


def film(name: str, **given: Any) -> Table:
    """A film pressed at 300 to 320 degrees for 10 to 15 s with a hot peel, unless given otherwise."""
    return {"id": name, "temperature": [300, 320], "dwell_s": [10, 15], "peel": "hot", **given}


def strip(name: str, n: int, **given: Any) -> Table:
    """A layer of its own strip: strips with different numbers do not touch."""
    return {"film": name, "box": [3 * n, 0, 2, 2], **given}


def pile(name: str, **given: Any) -> Table:
    """A layer that lies where every other pile lies."""
    return {"film": name, "box": [0, 0, 4, 4], **given}


def day_of(
    films: Sequence[Table],
    placements: Mapping[str, Sequence[Table]],
    garment: Table = TEE,
    *,
    presses: Sequence[Table] = (PRESS,),
    people: Sequence[Table] = ({"id": "ada"},),
    sizes: Mapping[str, Sequence[float]] | None = None,
    **shop: Any,
) -> Day:
    """A day with one design "d" of these placements on one garment, ordered once."""
    places = [
        {"at": at, "layer": list(layers), **({"size": sizes[at]} if sizes and at in sizes else {})}
        for at, layers in placements.items()
    ]
    return Day(
        shop=Shop.model_validate({"press": list(presses), "person": list(people), **shop}),
        catalog=Catalog.model_validate({"film": list(films), "garment": [garment]}),
        designs=Designs.model_validate({"design": [{"id": "d", "placement": places}]}),
        lines=(OrderLine(order="1", line="1", garment=garment["id"], quantity=1, design="d"),),
        start=datetime(2026, 12, 1, 8),
    )


def routes_of(*given: Any, **more: Any) -> tuple[Route, ...]:
    """The routes of such a day's one design."""
    (found,) = break_down(day_of(*given, **more)).values()
    return found


def front(films: Sequence[Table], layers: Sequence[Table], garment: Table = TEE, **more: Any) -> tuple[Operation, ...]:
    """The operations of one placement."""
    (route,) = routes_of(films, {"front": layers}, garment, **more)
    return route.operations


def laid(operations: Sequence[Operation]) -> list[tuple[int, ...]]:
    """The layers of each operation."""
    return [op.layers for op in operations]
