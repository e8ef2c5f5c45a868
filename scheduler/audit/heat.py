"""How long presses and garments take to warm and cool, written for the audit alone.

A first-order body moves as exp(-t / tau) toward what surrounds it (Newton's law of cooling for a lumped
body, Incropera chapter 5). Temperatures in the shop's unit, times in seconds.
"""

from __future__ import annotations

import math

from models.shop import Press

_WHOLE = 1e-6  # seconds by which a computed time may miss a whole second through rounding


def first_order(tau: float, start: float, end: float, toward: float) -> float:
    """Time to go from start to end on the way toward a surrounding temperature; infinite where it is never reached."""
    share = (start - toward) / (end - toward) if end != toward else math.inf
    return tau * math.log(share) if 0 < share < math.inf else math.inf


def moving(press: Press, old: float, new: float, room: float) -> float:
    """Seconds the platen is under way between two set-points, without settling."""
    if new > old:
        if press.heating is not None:
            return first_order(press.heating.tau_min * 60, old, new, press.heating.ceiling)
        return (new - old) / (press.heat_up or math.nan) * 60
    if new < old:
        if press.cooling is not None:
            return first_order(press.cooling.tau_min * 60, old, new, room) if new > room else math.inf
        return (old - new) / (press.cool_down or math.nan) * 60
    return 0.0


def change_time(press: Press, old: tuple[float, str | None], new: tuple[float, str | None], room: float) -> float:
    """Least whole seconds of a change of setting; a pressure of None is no change of pressure."""
    time = 0.0
    if old[0] != new[0]:
        way = moving(press, old[0], new[0], room)
        time += (math.ceil(way - _WHOLE) if math.isfinite(way) else math.inf) + press.settle_s
    if None not in (old[1], new[1]) and old[1] != new[1]:
        time += press.pressure_change_s
    return time


def fallen(press: Press, temperature: float, closed: float, room: float) -> float:
    """What a press shows after so many seconds switched off."""
    if temperature <= room or closed <= 0:
        return temperature
    if press.cooling is not None:
        return room + (temperature - room) / math.exp(closed / (press.cooling.tau_min * 60))
    return max(room, temperature - (press.cool_down or math.inf) * closed / 60)


def reached(press: Press, old: float, new: float, seconds: float, room: float) -> float:
    """What a press shows so many seconds into a change between two set-points."""
    whole = moving(press, old, new, room)
    if seconds >= whole:
        return new
    if new > old and press.heating is not None:
        ceiling = press.heating.ceiling
        return ceiling - (ceiling - old) / math.exp(seconds / (press.heating.tau_min * 60))
    if new < old and press.cooling is not None:
        return fallen(press, old, seconds, room)
    return old + (new - old) * seconds / whole


def cooled(tau: float, hot: float, below: float, room: float) -> float:
    """Whole seconds until a garment pressed at `hot` has cooled to `below`; infinite where it never does."""
    if hot <= below:
        return 0
    time = first_order(tau, hot, below, room) if below > room else math.inf
    return math.ceil(time - 1e-9) if math.isfinite(time) else time
