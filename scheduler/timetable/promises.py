"""Whether a person who does this now can still keep what they have promised."""

from __future__ import annotations

from collections.abc import Iterable

from scheduler.instance import PersonSide
from scheduler.timetable.acts import FAR, Script
from scheduler.timetable.record import Loading

# (latest start, earliest start, row of the script, script, the platen's limit); row len(acts) is the off-press peel.
Promise = tuple[int, int, int, Script, int]


def promise(script: Script, row: int, before: int, limit: int) -> Promise:
    """The next hand row of a loading whose row before ends at `before`."""
    act = script.acts[row]
    return (min(before + act.hi, limit - script.rest[row]), before + act.lo, row, script, limit)


class Hands:
    """One person in time: free from `free` on, with the promises they own."""

    def __init__(self, side: PersonSide) -> None:
        self.side = side
        self.free = 0
        self.owned: dict[Loading, Promise] = {}

    def present(self, now: int) -> bool:
        """Whether the person is at work."""
        return any(start <= now < end for start, end in self.side.windows)

    def within(self, start: int, seconds: int) -> int:
        """The earliest start from `start` on at which a hand row of so many seconds fits their hours."""
        for opens, closes in self.side.windows:
            begin = max(start, opens)
            if begin + seconds <= closes:
                return begin
        return FAR

    def fits_now(self, start: int, seconds: int) -> bool:
        """Whether a hand row may begin right now."""
        return self.within(start, seconds) == start

    def keeps(self, free: int, without: Loading | None, more: Iterable[Promise] = ()) -> bool:
        """Whether, free from `free` on, they can keep what they own but for `without`, and `more` besides.

        Promises are played through, the one with the earliest latest start first, another one in the gap
        before it where it fits: if that works the promises can be kept, since they can be kept this way.
        """
        items = [p for loading, p in self.owned.items() if loading is not without]
        items.extend(more)
        return not items or self._plays(list(items), free, True) or (len(items) > 1 and self._plays(items, free, False))

    def _plays(self, items: list[Promise], free: int, fill: bool) -> bool:
        who, now = self.side.index, free
        while items:
            item = _first(items, now, who) if fill else min(items, key=_latest)
            hi, lo, row, script, limit = item
            length = script.peel_times[who] if row == len(script.acts) else script.times[who][row]
            start = self.within(max(now, lo), length)
            if start > hi:
                return False
            now = start + length
            items.remove(item)
            follow = _follow(script, row, start if not script.auto_open else lo, now, limit)
            if follow is not None:
                if follow[1] > follow[0]:
                    return False
                items.append(follow)
        return True


def _first(items: list[Promise], now: int, who: int) -> Promise:
    best = min(items, key=_latest)
    if best[1] > now and len(items) > 1:
        for item in sorted(items, key=_latest):
            if item is not best:
                script, row = item[3], item[2]
                length = script.peel_times[who] if row == len(script.acts) else script.times[who][row]
                if max(now, item[1]) + length <= best[1]:
                    return item
    return best


def _latest(item: Promise) -> tuple[int, int]:
    return item[0], item[1]


def _follow(script: Script, row: int, opened: int, end: int, limit: int) -> Promise | None:
    if row + 1 < len(script.acts):
        return promise(script, row + 1, end, limit)
    if row + 1 == len(script.acts) and script.peel is not None and script.peel[1] < FAR:
        return (opened + script.peel[1], max(end, opened + script.peel[0]), row + 1, script, limit)
    return None
