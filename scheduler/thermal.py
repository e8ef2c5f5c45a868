"""How long presses take to change, how they fall back when they are off, and when work has cooled.

Formulas: contract section 4; first-order responses are Newton's law of cooling for a lumped body
(Incropera, chapter 5). Temperatures in the shop's unit, times in whole seconds rounded up.
"""

from __future__ import annotations

import math

from models.shop import Press

_ROUND = 1e-6


def heating_seconds(press: Press, a: float, b: float) -> float:
    """Seconds to rise from a to b (a < b), without settling."""
    if press.heating is not None:
        ceiling = press.heating.ceiling
        return 60 * press.heating.tau_min * math.log((ceiling - a) / (ceiling - b))
    assert press.heat_up is not None
    return 60 * (b - a) / press.heat_up


def cooling_seconds(press: Press, a: float, b: float, room: float) -> float:
    """Seconds to fall from a to b (a > b), without settling; infinite where b is not above the room."""
    if press.cooling is not None:
        return 60 * press.cooling.tau_min * math.log((a - room) / (b - room)) if b > room else math.inf
    assert press.cool_down is not None
    return 60 * (a - b) / press.cool_down


def change_seconds(press: Press, a: float, b: float, room: float) -> int:
    """Whole seconds from set-point a to set-point b, settling included; 0 where they are the same."""
    if a == b:
        return 0
    moving = heating_seconds(press, a, b) if b > a else cooling_seconds(press, a, b, room)
    return math.ceil(moving - _ROUND) + press.settle_s


def setting_seconds(press: Press, a: tuple[float, str], b: tuple[float, str], room: float) -> int:
    """Whole seconds from one (set-point, pressure) to another; a change of pressure adds its own time."""
    return change_seconds(press, a[0], b[0], room) + (press.pressure_change_s if a[1] != b[1] else 0)


def resting(press: Press, temperature: float, seconds: float, room: float) -> float:
    """The platen's temperature after `seconds` switched off, falling toward the room and not below it."""
    if temperature <= room:
        return temperature
    if press.cooling is not None:
        return room + (temperature - room) * math.exp(-seconds / (60 * press.cooling.tau_min))
    assert press.cool_down is not None
    return max(room, temperature - press.cool_down * seconds / 60)


def part_way(press: Press, a: float, b: float, seconds: float, room: float) -> float:
    """The platen's temperature `seconds` into a change from a to b."""
    if seconds <= 0 or a == b:
        return a if seconds <= 0 else b
    if b > a:
        if press.heating is not None:
            ceiling = press.heating.ceiling
            return min(b, ceiling - (ceiling - a) * math.exp(-seconds / (60 * press.heating.tau_min)))
        assert press.heat_up is not None
        return min(b, a + press.heat_up * seconds / 60)
    return max(
        b, resting(press, a, seconds, min(room, b)) if press.cooling is None else resting(press, a, seconds, room)
    )


def at_start(press: Press, room: float) -> float:
    """What the press shows when planning begins."""
    return room if press.at_start is None else press.at_start
