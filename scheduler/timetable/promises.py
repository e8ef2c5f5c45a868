"""Whether a person who does this now can still keep what they have promised.

A dispatch asks this for every hand row it might begin, so what is asked here is laid out for it in the script.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from scheduler.instance import PersonSide
from scheduler.timetable.acts import FAR, Script
from scheduler.timetable.record import Loading


@dataclass(slots=True, eq=False)
class Promise:
    """The next hand row of a loading: it starts in [lo, hi]. Row len(acts) is the off-press peel.

    `limit`: the platen is to be free by then. `heat`: the press, where several platens share its heat, else -1.
    Nothing in it changes.
    """

    hi: int
    lo: int
    row: int
    script: Script
    limit: int
    heat: int = -1

    @property
    def closes(self) -> bool:
        """Whether the platen is closed when this row ends."""
        return self.script.heats[self.row + 1]

    @property
    def closed(self) -> bool:
        """Whether the platen is under heat before this row."""
        return self.script.heats[self.row]

    def follow(self, opened: int, end: int) -> Promise | None:
        """What comes after this row, ended at `end`, the press last opened at `opened`; None: nothing that is due."""
        return following(self.script, self.row, opened, end, self.limit, self.heat)


def promise(script: Script, row: int, before: int, limit: int, heat: int) -> Promise:
    """The hand row of a loading whose row before ends at `before`."""
    lo, hi, rest = script.spans[row]
    hi, latest = before + hi, limit - rest
    return Promise(hi if hi < latest else latest, before + lo, row, script, limit, heat)


def following(script: Script, row: int, opened: int, end: int, limit: int, heat: int) -> Promise | None:
    """What comes after a hand row ended at `end`, the press last opened at `opened`; None: nothing that is due."""
    row += 1
    if row < len(script.spans):
        return promise(script, row, end, limit, heat)
    peel = script.peel
    if row == len(script.spans) and peel is not None and peel[1] < FAR:
        return Promise(opened + peel[1], max(end, opened + peel[0]), row, script, limit)
    return None


class Hands:
    """One person in time: free from `free` on, with the promises they own."""

    def __init__(self, side: PersonSide) -> None:
        self.side = side
        self.free = 0
        self.now = 0
        self.owned: dict[Loading, Promise] = {}
        self._opens, self._closes = -1, -1  # the first window not over at the last question, and those after it
        self._later = side.windows
        self.present(0)

    def present(self, now: int) -> bool:
        """Whether the person is at work; asked with times that do not fall."""
        while self._closes <= now:
            self._opens, self._closes = self._later[0] if self._later else (FAR, FAR)
            self._later = self._later[1:]
        return self._opens <= now

    def within(self, start: int, seconds: int) -> int:
        """The earliest start from `start` on at which a hand row of so many seconds fits their hours."""
        begin = start if start > self._opens else self._opens
        if begin + seconds <= self._closes:
            return begin
        for opens, closes in self._later:
            begin = start if start > opens else opens
            if begin + seconds <= closes:
                return begin
        return FAR

    def fits_now(self, start: int, seconds: int) -> bool:
        """Whether a hand row may begin right now."""
        return self.within(start, seconds) == start

    def keeps(self, free: int, without: Loading | None, more: Iterable[Promise] = ()) -> bool:
        """Whether, free from `free` on, they can keep what they own but for `without`, and `more` besides.

        Promises are played through, the one with the earliest latest start first, with another one in the gap
        before it where it fits, or without: if one of them works the promises can be kept, since they can be kept
        this way. What is broken already is past keeping and binds nobody.
        """
        now = self.now
        items = [p for loading, p in self.owned.items() if loading is not without and p.hi >= now]
        items.extend(more)
        if not items:
            return True
        for item in items:
            if item.hi < free:
                return False
        if len(items) == 1:
            return self._plays(items, free, True)
        return self._plays(items.copy(), free, True) or self._plays(items, free, False)

    def _plays(self, items: list[Promise], now: int, fill: bool) -> bool:
        who, opens, closes = self.side.index, self._opens, self._closes
        heat, shut = _shared(items)
        while items:
            item = items[0] if len(items) == 1 else _first(items, now, who, shut, fill)
            script, row = item.script, item.row
            length = script.lengths[who][row]
            start = item.lo if item.lo > now else now
            if item.heat >= 0 and script.heats[row + 1]:
                start = max(start, heat.get(item.heat, 0) - length)
            if start < opens or start + length > closes:
                start = self.within(start, length)
            if start > item.hi:
                return False
            if item.heat < 0 and len(items) == 1 and start + script.whole[row] <= closes:
                return True  # begun in time, alone and before they leave: the rest of it follows of itself
            now = start + length
            items.remove(item)
            opened = item.lo if script.auto_open and script.heats[row] else start
            follow = following(script, row, opened, now, item.limit, item.heat)
            if follow is not None:
                if follow.lo > follow.hi:
                    return False
                items.append(follow)
            if item.heat >= 0:
                _pass_heat(item, follow, now, heat, shut)
        return True


def _shared(items: list[Promise]) -> tuple[dict[int, int], set[int]]:
    """Until when each shared heat is taken, on presses that open by themselves; and the shared heats that somebody
    has to open before another platen can be closed."""
    taken: dict[int, int] = {}
    shut: set[int] = set()
    for item in items:
        if item.heat < 0 or not item.closed:
            continue
        if item.script.auto_open:
            act = item.script.acts[item.row]
            taken[item.heat] = max(taken.get(item.heat, 0), item.lo - act.lo + act.closed)
        else:
            shut.add(item.heat)
    return taken, shut


def _pass_heat(item: Promise, follow: Promise | None, now: int, heat: dict[int, int], shut: set[int]) -> None:
    if item.script.auto_open:
        if item.closes:
            heat[item.heat] = now + item.script.acts[item.row + 1].closed
        return
    if item.closed:
        shut.discard(item.heat)
    if follow is not None and follow.closed:
        shut.add(item.heat)


def _first(items: list[Promise], now: int, who: int, shut: set[int], fill: bool) -> Promise:
    """The promise to keep next: earliest latest start, leaving out what waits for a heat to be freed."""
    free = items
    if shut:
        free = [i for i in items if not (i.heat in shut and i.closes and not i.closed)] or items
    best = free[0]
    for item in free:
        if item.hi < best.hi or (item.hi == best.hi and item.lo < best.lo):
            best = item
    if fill and best.lo > now and len(free) > 1:
        return _before(best, free, now, who) or best
    return best


def _before(best: Promise, free: list[Promise], now: int, who: int) -> Promise | None:
    """Of what fits in the gap before the best, the one with the earliest latest start."""
    chosen: Promise | None = None
    for item in free:
        begin = item.lo if item.lo > now else now
        if item is best or begin + item.script.lengths[who][item.row] > best.lo:
            continue
        if chosen is None or item.hi < chosen.hi or (item.hi == chosen.hi and item.lo < chosen.lo):
            chosen = item
    return chosen
