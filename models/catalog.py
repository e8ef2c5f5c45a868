"""catalog.toml: films (heat-applied vinyl) and garments (blanks)."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BeforeValidator, Field, field_validator, model_validator

from models.base import MAX_SECONDS, MAX_TEMPERATURE, Length, Name, Seconds, Strict, Temperature
from models.units import IRON_DOTS_C, Range, TemperatureUnit, Window, from_celsius

Peel = Literal["hot", "warm", "cold"]

# Where a film gives no peel_after_s: seconds after the press opens (contract, section 1).
PEEL_DEFAULTS: dict[Peel, Window] = {"hot": Window(0, 5), "warm": Window(5, 30), "cold": Window(60, None)}


def _words(value: Any) -> Any:
    return [value] if isinstance(value, str) else value


def _earliest_latest(value: Any) -> Any:
    """One number or [earliest] means no latest."""
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        return (value, None)
    if isinstance(value, (list, tuple)) and len(value) == 1:
        return (value[0], None)
    return value


class Film(Strict):
    """A heat-applied vinyl. Temperatures and lengths in the shop's units, times in seconds."""

    id: Name
    kind: str = Field(default="", max_length=80)
    temperature: Range
    dwell_s: Range
    pressure: Annotated[tuple[Name, ...], BeforeValidator(_words)] | None = None
    peel: Peel
    peel_after_s: Annotated[tuple[Seconds, Seconds | None], BeforeValidator(_earliest_latest)] | None = None
    peel_below: Temperature | None = None
    top_only: bool = False
    tack_s: float | None = Field(default=None, gt=0, le=MAX_SECONDS)
    reheat_max: Temperature | None = None
    reheats: int | None = Field(default=None, ge=0, le=1000)
    repress_s: float | None = Field(default=None, gt=0, le=MAX_SECONDS)
    cover_sheet: bool = False
    carrier: float = Field(default=0.0, ge=0, le=50)
    align_s: Seconds | None = None
    peel_hand_s: Seconds | None = None
    roll: tuple[Length, Length] | None = None

    @field_validator("temperature")
    @classmethod
    def _a_temperature(cls, value: Range) -> Range:
        if not 0 < value.lo <= value.hi <= MAX_TEMPERATURE:
            raise ValueError(f"must lie above 0 and at most {MAX_TEMPERATURE:g} degrees")
        return value

    @field_validator("dwell_s")
    @classmethod
    def _a_dwell(cls, value: Range) -> Range:
        if not 1 <= value.lo <= value.hi <= MAX_SECONDS:
            raise ValueError(f"must lie between 1 and {MAX_SECONDS:g} seconds")
        return value

    @field_validator("pressure")
    @classmethod
    def _some_pressure(cls, value: tuple[str, ...] | None) -> tuple[str, ...] | None:
        if value is not None and not value:
            raise ValueError("name at least one pressure, or leave it out for any")
        return value

    @model_validator(mode="after")
    def _peel_window(self) -> Film:
        if self.peel_after_s and self.peel_after_s[1] is not None and self.peel_after_s[0] > self.peel_after_s[1]:
            raise ValueError("peel_after_s: the earliest must not be above the latest")
        return self

    @property
    def peel_window(self) -> Window:
        """Earliest and latest start of the peel, whole seconds after the press opens."""
        if self.peel_after_s is None:
            return PEEL_DEFAULTS[self.peel]
        earliest, latest = self.peel_after_s
        lo = -int(-earliest // 1)
        return Window(lo, None if latest is None else max(lo, int(latest)))


class Garment(Strict):
    """A blank. Limits in the shop's temperature unit, hand times in seconds a piece."""

    id: Name
    fabric: str = Field(default="", max_length=80)
    max_temperature: Temperature | None = None
    iron: Literal[1, 2, 3] | None = None
    prepress_s: Range = Range(0, 0, True)
    load_s: Seconds | None = None
    unload_s: Seconds | None = None
    cooling_tau_s: float | None = Field(default=None, gt=0, le=MAX_SECONDS)
    footprint: tuple[Length, Length] | None = None

    @field_validator("iron", mode="before")
    @classmethod
    def _dots(cls, value: Any) -> Any:
        if isinstance(value, bool):  # which Literal would take for 1
            raise ValueError("this must be 1, 2 or 3")
        return value

    @field_validator("prepress_s")
    @classmethod
    def _a_prepress(cls, value: Range) -> Range:
        if not 0 <= value.lo <= value.hi <= 600:
            raise ValueError("must lie between 0 and 600 seconds")
        return value

    def limit(self, unit: TemperatureUnit) -> float | None:
        """The hottest set-point the garment stands, shop's unit; None where nothing limits it.

        The care label's dots are read by ISO 3758; where both are given the lower one holds.
        """
        dots = None if self.iron is None else from_celsius(IRON_DOTS_C[self.iron], unit)
        given = [t for t in (self.max_temperature, dots) if t is not None]
        return min(given) if given else None


class Catalog(Strict):
    """The whole of catalog.toml."""

    film: tuple[Film, ...] = Field(min_length=1)
    garment: tuple[Garment, ...] = Field(min_length=1)
