"""Whether a person who does this now can still keep what they have promised."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from scheduler.instance import PersonSide
from scheduler.timetable.acts import FAR, Script
from scheduler.timetable.record import Loading


@dataclass(frozen=True, slots=True, eq=False)
class Promise:
    """The next hand row of a loading: it starts in [lo, hi]. Row len(acts) is the off-press peel.

    `limit`: the platen is to be free by then. `heat`: the press, where several platens share its heat, else -1.
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
        acts = self.script.acts
        return self.row + 1 < len(acts) and acts[self.row + 1].closed > 0

    @property
    def closed(self) -> bool:
        """Whether the platen is under heat before this row."""
        return self.row < len(self.script.acts) and self.script.acts[self.row].closed > 0

    def seconds(self, who: int) -> int:
        """How long the row takes a person."""
        script = self.script
        return script.peel_times[who] if self.row == len(script.acts) else script.times[who][self.row]

    def follow(self, opened: int, end: int) -> Promise | None:
        """What comes after this row, ended at `end`, the press last opened at `opened`; None: nothing that is due."""
        script, row = self.script, self.row + 1
        if row < len(script.acts):
            return promise(script, row, end, self.limit, self.heat)
        if row == len(script.acts) and script.peel is not None and script.peel[1] < FAR:
            return Promise(opened + script.peel[1], max(end, opened + script.peel[0]), row, script, self.limit)
        return None


def promise(script: Script, row: int, before: int, limit: int, heat: int) -> Promise:
    """The hand row of a loading whose row before ends at `before`."""
    act = script.acts[row]
    return Promise(min(before + act.hi, limit - script.rest[row]), before + act.lo, row, script, limit, heat)


class Hands:
    """One person in time: free from `free` on, with the promises they own."""

    def __init__(self, side: PersonSide) -> None:
        self.side = side
        self.free = 0
        self.now = 0
        self.owned: dict[Loading, Promise] = {}
        self._at = 0  # the first window that is not over at the last question

    def present(self, now: int) -> bool:
        """Whether the person is at work; asked with times that do not fall."""
        windows = self.side.windows
        while self._at < len(windows) and windows[self._at][1] <= now:
            self._at += 1
        return self._at < len(windows) and windows[self._at][0] <= now

    def within(self, start: int, seconds: int) -> int:
        """The earliest start from `start` on at which a hand row of so many seconds fits their hours."""
        windows = self.side.windows
        for number in range(self._at, len(windows)):
            opens, closes = windows[number]
            begin = max(start, opens)
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
        items = [p for loading, p in self.owned.items() if loading is not without and p.hi >= self.now]
        items.extend(more)
        if not items:
            return True
        return self._plays(list(items), free, True) or (len(items) > 1 and self._plays(items, free, False))

    def _plays(self, items: list[Promise], now: int, fill: bool) -> bool:
        who, heat, shut = self.side.index, _heat(items), _shut(items)
        while items:
            item = _first(items, now, who, shut, fill)
            length = item.seconds(who)
            earliest = max(now, item.lo)
            if item.heat >= 0 and item.closes:
                earliest = max(earliest, heat.get(item.heat, 0) - length)
            start = self.within(earliest, length)
            if start > item.hi:
                return False
            now = start + length
            items.remove(item)
            auto = item.script.auto_open
            follow = item.follow(item.lo if auto and item.closed else start, now)
            if follow is not None:
                if follow.lo > follow.hi:
                    return False
                items.append(follow)
            if item.heat >= 0:
                _pass_heat(item, follow, now, heat, shut)
        return True


def _heat(items: list[Promise]) -> dict[int, int]:
    """Until when each shared heat is taken, on presses that open by themselves."""
    taken: dict[int, int] = {}
    for item in items:
        if item.heat >= 0 and item.closed and item.script.auto_open:
            act = item.script.acts[item.row]
            taken[item.heat] = max(taken.get(item.heat, 0), item.lo - act.lo + act.closed)
    return taken


def _shut(items: list[Promise]) -> set[int]:
    """Shared heats that somebody has to open before another platen can be closed."""
    return {item.heat for item in items if item.heat >= 0 and item.closed and not item.script.auto_open}


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
    if len(items) == 1:
        return items[0]
    free = [i for i in items if not (i.closes and i.heat in shut and not i.closed)] or items
    best = min(free, key=_latest)
    if fill and best.lo > now and len(free) > 1:
        for item in sorted(free, key=_latest):
            if item is not best and max(now, item.lo) + item.seconds(who) <= best.lo:
                return item
    return best


def _latest(item: Promise) -> tuple[int, int]:
    return item.hi, item.lo
