"""designs.toml: placements on a garment and the layers of film on each, bottom first."""

from __future__ import annotations

from pydantic import Field, model_validator

from models.base import Coordinate, Length, Name, Seconds, Strict


class Layer(Strict):
    """One film's art: a box (x, y, width, height) or an outline of points, in the shop's length unit."""

    film: str
    box: tuple[Coordinate, Coordinate, Length, Length] | None = None
    outline: tuple[tuple[Coordinate, Coordinate], ...] | None = None
    personal: bool = False
    align_s: Seconds | None = None

    @model_validator(mode="after")
    def _one_shape(self) -> Layer:
        if (self.box is None) == (self.outline is None):
            raise ValueError("give either box = [x, y, width, height] or outline = [[x, y], ...]")
        if self.outline is not None and len(set(self.outline)) < 3:
            raise ValueError("an outline needs at least three different points")
        return self


class Placement(Strict):
    """A place on the garment that is pressed, with its layers; `size` must fit the platen."""

    at: Name
    size: tuple[Length, Length] | None = None
    layer: tuple[Layer, ...] = Field(min_length=1, max_length=60)


class Design(Strict):
    """What is pressed on one piece: its placements in the order they are listed."""

    id: Name
    placement: tuple[Placement, ...] = Field(min_length=1, max_length=12)

    @property
    def personal(self) -> bool:
        """Whether any layer has its own cut for each piece."""
        return any(layer.personal for place in self.placement for layer in place.layer)


class Designs(Strict):
    """The whole of designs.toml."""

    design: tuple[Design, ...] = Field(min_length=1)
