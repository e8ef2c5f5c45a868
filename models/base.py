"""The base of everything a person writes down: strict, frozen, unknown keys refused."""

from __future__ import annotations

from typing import Annotated

from pydantic import AfterValidator, BaseModel, ConfigDict, Field

# The bounds of sense. Beyond them a figure is a slip of the pen, not a shop.
MAX_TEMPERATURE = 800.0
MAX_SECONDS = 7200.0
MAX_LENGTH = 500.0
MAX_QUANTITY = 100_000


class Strict(BaseModel):
    """A table in a file: unknown keys, infinities and NaN are errors; instances do not change."""

    model_config = ConfigDict(
        extra="forbid", frozen=True, allow_inf_nan=False, str_strip_whitespace=True, defer_build=True
    )


def _plain(name: str) -> str:
    if any(ch in name for ch in ';,"\r\n\t\0') or name != name.strip():
        raise ValueError("must not hold commas, semicolons, quotes, tabs or line breaks")
    if not name.isprintable():
        raise ValueError("must hold printable characters only")
    if name.startswith(("=", "+", "-", "@")):
        raise ValueError("must not start with =, +, - or @, a spreadsheet would take it for a formula")
    return name


Name = Annotated[str, Field(min_length=1, max_length=80), AfterValidator(_plain)]
Seconds = Annotated[float, Field(ge=0, le=MAX_SECONDS)]
Temperature = Annotated[float, Field(ge=-60, le=MAX_TEMPERATURE)]
Length = Annotated[float, Field(gt=0, le=MAX_LENGTH)]
Coordinate = Annotated[float, Field(ge=-MAX_LENGTH, le=MAX_LENGTH)]
