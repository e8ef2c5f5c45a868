"""How much slower than with hands enough presses run side by side, by the crew's rule of serving."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

_BEND = 6.0  # how sharply presses slow down as hands run out; fitted to dispatched days
_UNBEND = 1 / _BEND
_LIGHT = 0.5  # below this share of the hands nobody waits
_MOST = 20_000  # paces remembered at once
_STARVED = 50.0  # how many times slower a press runs at the most


class Asking(NamedTuple):
    """What a press at work asks of the crew: the `share` of a person, the seconds from one loading to the next
    (`each`), and when its order is `due`."""

    share: float
    each: int
    due: int


class Paces:
    """Paces of the presses of one day, remembered by what they are at."""

    def __init__(self, staff: Sequence[float]) -> None:
        self.staff = staff  # people of pace 1 that are there, stretch of time by stretch of time
        self.serve = "longest"  # the crew's rule of serving, as in the manners of the dispatch
        self._numbers: dict[Asking, int] = {}
        self._asking: list[Asking] = []
        self._memo: dict[tuple[str, int, tuple[int, ...]], tuple[float, ...]] = {}

    def number(self, asking: Asking) -> int:
        """A number for what is asked; equals have the same."""
        if asking not in self._numbers:
            self._numbers[asking] = len(self._asking)
            self._asking.append(asking)
        return self._numbers[asking]

    def of(self, segment: int, doing: tuple[int, ...], left: Sequence[int]) -> tuple[float, ...]:
        """Each press's pace in a stretch of time, 1 where it is not slowed.

        `doing`: what each of them asks, by number, -1 for nothing; `left`: seconds of work each still has.
        """
        if self.serve == "most":
            return self._of(segment, doing, left)
        key = (self.serve, segment, doing)
        paces = self._memo.get(key)
        if paces is None:
            if len(self._memo) >= _MOST:
                self._memo.clear()
            paces = self._memo[key] = self._of(segment, doing, left)
        return paces

    def _of(self, segment: int, doing: tuple[int, ...], left: Sequence[int]) -> tuple[float, ...]:
        asking = {press: self._asking[number] for press, number in enumerate(doing) if number >= 0}
        staff, paces = self.staff[segment], [1.0] * len(doing)
        if sum(a.share for a in asking.values()) < _LIGHT * staff:
            return tuple(paces)
        if self.serve == "longest":
            _one_by_one(asking, staff, paces)
        else:
            first = sorted(asking, key=(lambda p: -left[p]) if self.serve == "most" else (lambda p: asking[p].due))
            _some_first([(press, asking[press].share) for press in first], staff, paces)
        return tuple(paces)


def _one_by_one(asking: dict[int, Asking], staff: float, paces: list[float]) -> None:
    """Hands come to each press in turn, a loading at a time: all that are slowed share one cycle."""
    spare = staff - sum(a.share for a in asking.values())
    quickest = sorted(asking.values(), key=lambda a: a.each)
    hands = cycle = 0.0
    for number, a in enumerate(quickest, 1):
        hands += a.share * a.each
        spare += a.share
        if spare > 0:
            cycle = hands / spare
            if number == len(quickest) or cycle <= quickest[number].each:
                break
    for press, a in asking.items():
        paces[press] = (1.0 + (cycle / a.each) ** _BEND) ** _UNBEND


def _some_first(shares: list[tuple[int, float]], staff: float, paces: list[float]) -> None:
    """Hands go to the press with most left to do, or whose order is due first, and what is left to the next."""
    for press, share in shares:
        paces[press] = min(_STARVED, (1.0 + (share / max(staff, 0.01)) ** _BEND) ** _UNBEND)
        staff -= share / paces[press]
