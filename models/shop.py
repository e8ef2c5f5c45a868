"""shop.toml: presses, people, hours, hand times, rules, goals."""

from __future__ import annotations

import re
from datetime import datetime
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, BeforeValidator, Field, field_validator, model_validator

from models.base import Length, Name, Seconds, Strict, Temperature
from models.units import LengthUnit, TemperatureUnit

Weekday = Literal["mon", "tue", "wed", "thu", "fri", "sat", "sun"]
WEEKDAYS: tuple[Weekday, ...] = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")


def clock(value: Any) -> int:
    """ "08:00" as seconds after midnight; "24:00" is the end of the day."""
    if isinstance(value, int) and not isinstance(value, bool) and 0 <= value <= 86_400:
        return value
    match = re.fullmatch(r"(\d{1,2}):(\d{2})(?::(\d{2}))?", value) if isinstance(value, str) else None
    if match:
        hours, minutes, seconds = int(match[1]), int(match[2]), int(match[3] or 0)
        total = hours * 3600 + minutes * 60 + seconds
        if minutes < 60 and seconds < 60 and total <= 86_400:
            return total
    raise ValueError('write a time of day in 24 hours, as "08:00"')


def moment(value: Any) -> datetime:
    """ "2026-12-01T08:00", "2026-12-01 8:00" or with seconds, local and naive; whole seconds."""
    if isinstance(value, datetime):
        if value.tzinfo is None and value.microsecond == 0:
            return value
    elif isinstance(value, str):
        match = re.fullmatch(r"(\d{4})-(\d{1,2})-(\d{1,2})[T ]+(\d{1,2}):(\d{2})(?::(\d{2})(?:\.0+)?)?", value.strip())
        if match:
            year, month, day, hour, minute, second = (int(part or 0) for part in match.groups())
            try:
                if 2000 <= year <= 2200:
                    return datetime(year, month, day, hour, minute, second)
            except ValueError:
                pass
    raise ValueError('write a local date and time without a zone, as "2026-12-01T08:00"')


Clock = Annotated[int, BeforeValidator(clock)]
Moment = Annotated[datetime, BeforeValidator(moment)]


def _ordered(pair: tuple[Any, Any]) -> tuple[Any, Any]:
    if pair[0] >= pair[1]:
        raise ValueError("the first time must come before the second")
    return pair


ClockPair = Annotated[tuple[Clock, Clock], AfterValidator(_ordered)]
MomentPair = Annotated[tuple[Moment, Moment], AfterValidator(_ordered)]


class Units(Strict):
    """What the press displays show, and the unit of every temperature and length in the folder."""

    temperature: TemperatureUnit = "F"
    length: LengthUnit = "in"


class Hours(Strict):
    """The shop's opening hours, seconds after midnight; days left out: every day."""

    open: Clock = Field(default=8 * 3600, validate_default=True)
    close: Clock = Field(default=17 * 3600, validate_default=True)
    days: tuple[Weekday, ...] | None = None
    breaks: tuple[ClockPair, ...] = ()

    @model_validator(mode="after")
    def _opens_before_it_closes(self) -> Hours:
        if self.open >= self.close:
            raise ValueError("open must come before close")
        if self.days is not None and not self.days:
            raise ValueError("name at least one day, or leave days out for every day")
        return self


class Room(Strict):
    """The room's temperature, shop's unit; left out: 72 °F or 22 °C."""

    temperature: Temperature | None = None


class Hands(Strict):
    """Hand times in seconds a piece; align and peel also count once a layer."""

    load_s: Seconds = 10
    align_s: Seconds = 8
    unload_s: Seconds = 4
    peel_s: Seconds = 4


class Rules(Strict):
    """late_open_s: seconds a single-number dwell may run over; rack: pieces cooling at once."""

    late_open_s: int = Field(default=3, ge=0, le=600)
    rack: int | None = Field(default=None, ge=1, le=1_000_000)
    many_layers: int = Field(default=8, ge=1, le=1000)


class Goals(Strict):
    """The weights of contract section 5's second goal."""

    change: float = Field(default=10, ge=0, le=10_000)
    peel_wait: float = Field(default=1, ge=0, le=10_000)
    finish: float = Field(default=1, ge=0, le=10_000)


class Spread(Strict):
    """How far a day strays from its plan. All but `spoil` are coefficients of variation (0: exactly as planned).

    `hands`: one hand row of one piece (a row of n pieces strays less, by the root of n). `pace`: a person's pace
    from one day to another. `change`: a change of setting and a warm-up. `spoil`: the share of pieces that have to
    be made again. Defaults: unpaced hand work is skewed with coefficients of about 0.1 to 0.4 (memory of Knott and
    Sury 1987, work-time distributions on unpaced tasks); two in a hundred spoiled, a twentieth between days and a
    seventh or so on heating are common practice. `pressday learn` measures them.
    """

    hands: float = Field(default=0.25, ge=0, le=2)
    pace: float = Field(default=0.05, ge=0, le=1)
    change: float = Field(default=0.15, ge=0, le=2)
    spoil: float = Field(default=0.02, ge=0, le=0.5)


class Heating(Strict):
    """A first-order rise toward `ceiling` (temperature) with time constant `tau_min` (minutes)."""

    ceiling: Temperature
    tau_min: float = Field(gt=0, le=1440)


class Cooling(Strict):
    """A first-order fall toward the room with time constant `tau_min` (minutes)."""

    tau_min: float = Field(gt=0, le=10_000)


class Press(Strict):
    """One heat press. Rates in degrees a minute, other times in seconds, platen in the length unit."""

    id: Name
    platen: tuple[Length, Length]
    stations: int = Field(default=1, ge=1, le=6)
    temperature: tuple[Temperature, Temperature]
    heat_up: float | None = Field(default=None, gt=0, le=1000)
    cool_down: float | None = Field(default=None, gt=0, le=1000)
    heating: Heating | None = None
    cooling: Cooling | None = None
    settle_s: int = Field(default=0, ge=0, le=7200)
    at_start: Temperature | None = None
    auto_open: bool = False
    pressures: tuple[Name, ...] | None = None
    pressure_change_s: int = Field(default=0, ge=0, le=7200)
    garments: tuple[str, ...] | None = None
    placements: tuple[str, ...] | None = None
    away: tuple[MomentPair, ...] = ()

    @field_validator("temperature")
    @classmethod
    def _rising(cls, value: tuple[float, float]) -> tuple[float, float]:
        if value[0] > value[1]:
            raise ValueError(f"the first number must not be above the second; write [{value[1]:g}, {value[0]:g}]")
        return value

    @field_validator("pressures", "garments", "placements")
    @classmethod
    def _not_empty(cls, value: tuple[str, ...] | None) -> tuple[str, ...] | None:
        if value is not None and not value:
            raise ValueError("name at least one, or leave it out for any")
        return value

    @model_validator(mode="after")
    def _one_way_each(self) -> Press:
        if (self.heat_up is None) == (self.heating is None):
            raise ValueError("give either heat_up (degrees a minute) or heating = { ceiling, tau_min }")
        if (self.cool_down is None) == (self.cooling is None):
            raise ValueError("give either cool_down (degrees a minute) or cooling = { tau_min }")
        if self.heating is not None and self.heating.ceiling <= self.temperature[1]:
            raise ValueError("heating.ceiling must lie above the highest temperature the press can be set to")
        return self


class Person(Strict):
    """Someone who works presses; what is left out is the shop's. `pace` multiplies every hand row."""

    id: Name
    presses: tuple[str, ...] | None = None
    open: Clock | None = None
    close: Clock | None = None
    days: tuple[Weekday, ...] | None = None
    breaks: tuple[ClockPair, ...] | None = None
    away: tuple[MomentPair, ...] = ()
    pace: float = Field(default=1.0, ge=0.1, le=10)

    @field_validator("presses", "days")
    @classmethod
    def _not_empty(cls, value: tuple[str, ...] | None) -> tuple[str, ...] | None:
        if value is not None and not value:
            raise ValueError("name at least one, or leave it out")
        return value

    @model_validator(mode="after")
    def _comes_before_they_go(self) -> Person:
        if self.open is not None and self.close is not None and self.open >= self.close:
            raise ValueError("open must come before close")
        return self


class Shop(Strict):
    """The whole of shop.toml."""

    name: str = Field(default="", max_length=200)
    start: Moment | None = None
    units: Units = Units()
    hours: Hours = Hours()
    room: Room = Room()
    hands: Hands = Hands()
    rules: Rules = Rules()
    goals: Goals = Goals()
    spread: Spread = Spread()
    press: tuple[Press, ...] = Field(min_length=1)
    person: tuple[Person, ...] = Field(min_length=1)

    @property
    def room_temperature(self) -> float:
        """The room's temperature in the shop's unit."""
        if self.room.temperature is not None:
            return self.room.temperature
        return 72.0 if self.units.temperature == "F" else 22.0
