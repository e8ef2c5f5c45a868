"""Temperatures, whole-degree windows and the pairs people write for them."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Literal

from pydantic import GetCoreSchemaHandler
from pydantic_core import CoreSchema, core_schema

TemperatureUnit = Literal["F", "C"]
LengthUnit = Literal["in", "cm"]

# ISO 3758:2023: the care label's iron with one, two or three dots, degrees Celsius at most.
IRON_DOTS_C: dict[int, float] = {1: 110.0, 2: 150.0, 3: 200.0}


def from_celsius(celsius: float, unit: TemperatureUnit) -> float:
    """A point on the Celsius scale in `unit` (NIST SP 811, B.8: F = 1.8 C + 32)."""
    return celsius if unit == "C" else celsius * 1.8 + 32.0


def to_celsius(value: float, unit: TemperatureUnit) -> float:
    """A temperature in `unit` as degrees Celsius (NIST SP 811, B.8: C = (F - 32) / 1.8)."""
    return value if unit == "C" else (value - 32.0) / 1.8


@dataclass(frozen=True, slots=True)
class Window:
    """A closed range of whole numbers, degrees or seconds; `hi` None means without end."""

    lo: int
    hi: int | None

    def __contains__(self, value: float) -> bool:
        return self.lo <= value and (self.hi is None or value <= self.hi)

    def meet(self, other: Window) -> Window | None:
        """What both windows hold, or None where they hold nothing in common."""
        lo = max(self.lo, other.lo)
        ends = [w.hi for w in (self, other) if w.hi is not None]
        hi = min(ends) if ends else None
        return None if hi is not None and lo > hi else Window(lo, hi)

    def __str__(self) -> str:
        if self.hi is None:
            return f"from {self.lo}"
        return f"{self.lo}" if self.lo == self.hi else f"{self.lo} to {self.hi}"


def inward(lo: float, hi: float) -> Window | None:
    """The whole degrees inside [lo, hi], or None where there is none.

    A value within 1e-9 of a whole number counts as that number, so that 150 °C is exactly 302 °F.
    """
    low, high = math.ceil(lo - 1e-9), math.floor(hi + 1e-9)
    return Window(low, high) if low <= high else None


@dataclass(frozen=True, slots=True)
class Range:
    """What a person wrote as one number or as [lo, hi]; `single` tells which."""

    lo: float
    hi: float
    single: bool

    @classmethod
    def read(cls, value: Any) -> Range:
        """Take 15, [15, 18] or another Range; ValueError says what would be right."""
        if isinstance(value, Range):
            return value
        if _is_number(value):
            return cls(float(value), float(value), True)
        if isinstance(value, (list, tuple)) and len(value) == 2 and all(_is_number(v) for v in value):
            lo, hi = float(value[0]), float(value[1])
            if lo > hi:
                raise ValueError(f"the first number must not be above the second; write [{hi:g}, {lo:g}]")
            return cls(lo, hi, False)
        raise ValueError("write one number, or two as [lowest, highest]")

    @classmethod
    def __get_pydantic_core_schema__(cls, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.no_info_plain_validator_function(
            cls.read,
            serialization=core_schema.plain_serializer_function_ser_schema(
                lambda r: r.lo if r.single else [r.lo, r.hi]
            ),
        )

    def seconds(self, late: int = 0) -> Window:
        """As whole seconds: one number d gives [d, d + late], a pair is taken as it stands."""
        lo = math.ceil(self.lo - 1e-9)
        hi = lo + late if self.single else math.floor(self.hi + 1e-9)
        return Window(lo, max(lo, hi))


def _is_number(value: Any) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool) and math.isfinite(value)
