"""What films ask of a closing, and what several of them together leave: the windows of an operation.

Temperatures in whole degrees of the shop's unit, times in whole seconds.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from models.catalog import Film, Garment, Peel
from models.operation import CoolTo
from models.units import Range, TemperatureUnit, Window, inward


@dataclass(frozen=True, slots=True)
class Demand:
    """What one film asks on one garment.

    `tack` is its dwell where a later operation presses the placement again, `repress` the dwell of the
    pressing after its peel, `reheat_max` and `reheats` what it stands of later pressings.
    """

    film: str
    temperature: Window
    dwell: Window
    tack: Window
    pressures: frozenset[str]
    peel: Peel
    peel_after: Window
    cool_to: CoolTo | None
    reheat_max: int | None
    reheats: int | None
    repress: Window | None

    def spoilt_at(self, temperature: int) -> bool:
        """Whether a later pressing at this set-point is hotter than the film stands."""
        return self.reheat_max is not None and self.reheat_max < temperature


@dataclass(frozen=True, slots=True)
class Blend:
    """What the films of one operation leave in common; `dwell` or `tack` None: nothing, used that way.

    `again` and `again_at` are dwell and temperature of the repress, None where no film wants one.
    """

    temperature: Window
    dwell: Window | None
    tack: Window | None
    pressures: frozenset[str]
    peel_after: Window
    reheat_max: int | None
    reheats: int | None
    again: Window | None = None
    again_at: Window | None = None
    again_pressures: frozenset[str] = frozenset()

    def dwell_where(self, pressed_again: bool) -> Window | None:
        """The dwell window, by whether a later operation presses the placement again (rule 5)."""
        return self.tack if pressed_again else self.dwell


def least(values: Iterable[int | None]) -> int | None:
    """The smallest of limits, None being no limit."""
    return min((v for v in values if v is not None), default=None)


def at_most(window: Window, limit: int | None) -> Window | None:
    """The part of a temperature window not above `limit`, None where nothing is left."""
    return window if limit is None else window.meet(Window(window.lo, limit))


def whole_limit(limit: float | None) -> int | None:
    """The highest whole degree not above a limit; 150 °C read as 302 °F stays 302."""
    return None if limit is None else math.floor(limit + 1e-9)


def pressable(film: Film, garment: Garment, unit: TemperatureUnit) -> Window | None:
    """The film's temperatures that the garment stands, rounded inward; None where there is none."""
    limit = garment.limit(unit)
    return inward(film.temperature.lo, film.temperature.hi if limit is None else min(film.temperature.hi, limit))


def hottest_peel(cool_to: CoolTo, latest: int, room: float, window: Window) -> int | None:
    """The highest set-point in `window` from which the garment cools by the latest peel, or None.

    The cooling time rises with the set-point, so the answer is found by halving.
    """
    assert window.hi is not None
    low, high = window.lo, window.hi
    if cool_to.seconds(low, room) > latest:
        return None
    while low < high:
        middle = (low + high + 1) // 2
        if cool_to.seconds(middle, room) <= latest:
            low = middle
        else:
            high = middle - 1
    return low


def demand(film: Film, garment: Garment, temperature: Window, late: int, words: Sequence[str]) -> Demand:
    """What `film` asks on `garment`, whose limit `temperature` already keeps; `words`: pressures in use."""
    dwell = film.dwell_s.seconds(late)
    cool_to = None
    if film.peel_below is not None:
        assert garment.cooling_tau_s is not None
        cool_to = CoolTo(film.peel_below, garment.cooling_tau_s)
    return Demand(
        film=film.id,
        temperature=temperature,
        dwell=dwell,
        tack=dwell if film.tack_s is None else Range(film.tack_s, film.tack_s, True).seconds(late),
        pressures=frozenset(film.pressure or words),
        peel=film.peel,
        peel_after=film.peel_window,
        cool_to=cool_to,
        reheat_max=whole_limit(film.reheat_max),
        reheats=film.reheats,
        repress=None if film.repress_s is None else Range(film.repress_s, film.repress_s, True).seconds(late),
    )


def blend(demands: Sequence[Demand], room: float, late: int) -> Blend | None:
    """The windows of one operation with these films, or None where they cannot share one (rule 2).

    Adding a film to films that cannot share an operation never lets them.
    """
    temperature = _meet([d.temperature for d in demands])
    peel_after = _meet([d.peel_after for d in demands])
    pressures = frozenset.intersection(*(d.pressures for d in demands))
    dwell, tack = _meet([d.dwell for d in demands]), _meet([d.tack for d in demands])
    if temperature is None or peel_after is None or not pressures or (dwell is None and tack is None):
        return None
    if len({d.peel for d in demands}) > 1:
        return None
    temperature = _cooled_in_time(demands, temperature, peel_after, room)
    if temperature is None:
        return None
    stands = least(d.reheat_max for d in demands)
    reheats = least(d.reheats for d in demands)
    wanting = [d for d in demands if d.repress is not None]
    if not wanting:
        return Blend(temperature, dwell, tack, pressures, peel_after, stands, reheats)
    # A repress is a later pressing: what these films themselves stand bounds it.
    again_at = _meet([d.temperature for d in wanting])
    again_at = None if again_at is None else at_most(again_at, stands)
    if again_at is None or tack is None:
        return None
    again = _together([d.repress for d in wanting if d.repress is not None], late)
    again_pressures = frozenset.intersection(*(d.pressures for d in wanting))
    return Blend(temperature, dwell, tack, pressures, peel_after, stands, reheats, again, again_at, again_pressures)


def _meet(windows: Sequence[Window]) -> Window | None:
    met: Window | None = windows[0]
    for window in windows[1:]:
        met = None if met is None else met.meet(window)
    return met


def _cooled_in_time(demands: Sequence[Demand], window: Window, peel_after: Window, room: float) -> Window | None:
    """The part of a temperature window from which every film has cooled by the latest peel of all."""
    met: Window | None = window
    for cool_to in {d.cool_to for d in demands if d.cool_to is not None}:
        if met is not None and peel_after.hi is not None:
            hottest = hottest_peel(cool_to, peel_after.hi, room, met)
            met = None if hottest is None else Window(met.lo, hottest)
    return met


def _together(windows: Sequence[Window], late: int) -> Window:
    """Represses that fall together are one: the windows' intersection, or the longest where they don't meet."""
    longest = max(window.lo for window in windows)
    return _meet(windows) or Window(longest, longest + late)
