"""How much slower than with hands enough presses run side by side.

Of one press or two it is their rhythm, played once and remembered. Of more there are too many rhythms to play, and
hands are shared out by a formula that was fitted to dispatched days.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from scheduler.instance import Instance
from scheduler.solving.rhythm import Beat, Kind, rhythm

_FEW = 2  # presses of a shop whose rhythms are played
_BEND = 4.5  # how sharply presses slow down as hands run out; fitted to dispatched days
_UNBEND = 1 / _BEND
_LIGHT = 0.5  # below this share of the hands nobody waits
_MOST = 100_000  # paces remembered at once
_QUICKEST, _STARVED = 0.8, 50.0  # how many times slower a press runs at the least and at the most

_Doing = tuple[int, ...]  # what each press is at, by number, -1 for nothing
_Known = dict[tuple[tuple[int, ...], _Doing], tuple[float, ...]]


class Rhythms:
    """Paces found so far, by who is there and what is done side by side: the same for every way a day is cut.

    `played`: whether they may be played; otherwise all are the formula's.
    """

    def __init__(self, played: bool = True) -> None:
        self.played = played
        self.numbers: dict[Kind, int] = {}
        self.known: _Known = {}

    def number(self, kind: Kind) -> int:
        """A number for what a press may be at; equals have the same."""
        return self.numbers.setdefault(kind, len(self.numbers))

    def remember(self, people: tuple[int, ...], doing: _Doing, paces: tuple[float, ...]) -> None:
        """Keep paces; all are forgotten where they become too many."""
        if len(self.known) >= _MOST:
            self.known.clear()
        self.known[people, doing] = paces


class Paces:
    """Paces of the presses of one day. `crews`: who is there, by index, stretch of time by stretch of time."""

    def __init__(self, instance: Instance, crews: Sequence[tuple[int, ...]], rhythms: Rhythms) -> None:
        self.instance, self.crews, self.rhythms = instance, crews, rhythms
        self._beats: dict[int, Beat] = {}

    @property
    def played(self) -> bool:
        """Whether paces are rhythms that were played, not a formula's."""
        return self.rhythms.played and len(self.instance.presses) <= _FEW

    def number(self, beat: Beat) -> int:
        """A number for what a press may be at; what has the same paces beside the same has the same number."""
        kind = beat.kind(self.instance) if self.played else (beat.each, beat.share)
        number = self.rhythms.number(kind)
        self._beats.setdefault(number, beat)
        return number

    def of(self, segment: int, doing: _Doing) -> tuple[float, ...]:
        """Each press's pace in a stretch of time, 1 where it is not slowed."""
        crew = self.crews[segment]
        paces = self.rhythms.known.get((crew, doing))
        if paces is None:
            paces = self._of(crew, doing)
            self.rhythms.remember(crew, doing, paces)
        return paces

    def _of(self, crew: tuple[int, ...], doing: _Doing) -> tuple[float, ...]:
        beats = self._beats
        at_work = {press: beats[number] for press, number in enumerate(doing) if number >= 0}
        paces = [1.0] * len(doing)
        if at_work and self.played:
            for press, seconds in rhythm(self.instance, list(at_work.values()), crew).items():
                paces[press] = min(_STARVED, max(_QUICKEST, seconds / at_work[press].each))
            return tuple(paces)
        staff = sum([1 / self.instance.people[who].pace for who in crew])
        asked = sum([beat.share for beat in at_work.values()])
        if asked >= _LIGHT * staff:
            _one_by_one(at_work, staff - asked, paces)
        return tuple(paces)


def _one_by_one(at_work: Mapping[int, Beat], spare: float, paces: list[float]) -> None:
    """Hands come to each press in turn, a loading at a time: all that are slowed share one cycle.

    `spare`: people that are left over where no press waits, fewer than none where hands run out.
    """
    quickest = sorted([(beat.each, beat.share) for beat in at_work.values()])
    hands = cycle = 0.0
    for number, (each, share) in enumerate(quickest, 1):
        hands += share * each
        spare += share
        if spare > 0:
            cycle = hands / spare
            if number == len(quickest) or cycle <= quickest[number][0]:
                break
    for press, beat in at_work.items():
        paces[press] = min(_STARVED, (1.0 + (cycle / beat.each) ** _BEND) ** _UNBEND)
