"""Colours of the page: a heat scale whose lightness falls all the way, and a mark for every order.

Both are laid out in OKLCH (Ottosson 2020), where equal steps look equal; its lightness orders the colours the same
way for every kind of colour vision and on a black-and-white printer.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

_COOL = (0.93, 0.055, 100.0)  # lightness, chroma, hue in degrees: straw
_HOT = (0.34, 0.115, 18.0)  # dark ember

_HUES = (250.0, 145.0, 330.0, 70.0, 200.0, 300.0, 110.0)
_SHADES = (0.45, 0.66, 0.55)
_PATTERNS = ("", "/", "x", ".", "-", "\\", "|", "+")

BLACK_INK = "#000000"
WHITE_INK = "#ffffff"


@dataclass(frozen=True, slots=True)
class Mark:
    """What an order's ribbon looks like: a colour and a pattern laid over it (plotly's signs for patterns)."""

    colour: str
    pattern: str


def heat(temperature: float, coolest: float, hottest: float) -> str:
    """The colour of a set-point on the scale from the plan's coolest to its hottest, as #rrggbb."""
    share = 0.5 if hottest <= coolest else (temperature - coolest) / (hottest - coolest)
    share = min(1.0, max(0.0, share))
    lightness, chroma, hue = (a + share * (b - a) for a, b in zip(_COOL, _HOT, strict=True))
    return _hex(lightness, chroma, hue)


def ink_on(colour: str) -> str:
    """Black or white ink, whichever has the higher contrast on a #rrggbb colour (WCAG 2, relative luminance)."""
    light = _luminance(colour)
    return BLACK_INK if (light + 0.05) / (_luminance(BLACK_INK) + 0.05) >= 1.05 / (light + 0.05) else WHITE_INK


def mark(number: int) -> Mark:
    """The ribbon of the order with this number in the day, from 0; the first 168 all differ."""
    hue, shade = _HUES[number % len(_HUES)], _SHADES[number % len(_SHADES)]
    return Mark(_hex(shade, 0.11, hue), _PATTERNS[number % len(_PATTERNS)])


def _luminance(colour: str) -> float:
    channels = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def _hex(lightness: float, chroma: float, hue: float) -> str:
    """OKLCH to sRGB by Ottosson's matrices, clipped into the gamut."""
    a, b = chroma * math.cos(math.radians(hue)), chroma * math.sin(math.radians(hue))
    long = (lightness + 0.3963377774 * a + 0.2158037573 * b) ** 3
    middle = (lightness - 0.1055613458 * a - 0.0638541728 * b) ** 3
    short = (lightness - 0.0894841775 * a - 1.2914855480 * b) ** 3
    linear = (
        4.0767416621 * long - 3.3077115913 * middle + 0.2309699292 * short,
        -1.2684380046 * long + 2.6097574011 * middle - 0.3413193965 * short,
        -0.0041960863 * long - 0.7034186147 * middle + 1.7076147010 * short,
    )
    return "#" + "".join(f"{round(255 * _gamma(min(1.0, max(0.0, c)))):02x}" for c in linear)


def _gamma(channel: float) -> float:
    return 12.92 * channel if channel <= 0.0031308 else 1.055 * channel ** (1 / 2.4) - 0.055
