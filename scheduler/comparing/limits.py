"""What limits the day: which of presses, hands, heat, cooling and blanks, taken away, would let it end soonest.

The rule. From the plan's own rows least times are reckoned, each as if the others were no matter and as if work
could be parted at will:
 - hands: by when the people's hours together hold all hand rows, nobody beginning before the first press is warm;
 - presses: for every group of presses that some work is confined to, by when their hours together hold the pressing
   of what only they can take, after their warm-ups, with their changes (heat) and their waits for peels (cooling);
 - blanks: by when the presses' hours, and the people's, hold what is ready at a time, from that time on.
The plan can't end before the greatest of them. Then each is eased in turn: hands by one more person with the shop's
hours, presses by a second one like each, heat and cooling by taking no time, blanks by being there at once. What
brings the greatest down the most limits the day. (A plan's bounds are proven for any plan; these are for this one's
own times.)
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from models.day import Day
from models.plan import Row
from scheduler import calendar
from scheduler.calendar import Spans
from scheduler.comparing.spent import PressTime, hand_seconds, press_times
from scheduler.comparing.takers import place_of, takers

RESOURCES = ("presses", "hands", "heat", "cooling", "blanks")
RULE = (
    "What limits the day is reckoned from the plan's own times: how soon all hands together, the presses that work is "
    "confined to, with their settings and waits, and what comes late could be through, each as if the others were no "
    "matter; then each is eased in turn (one more person, a second press of each, no heating, no cooling, all blanks "
    "at once). What brings the greatest of these times down the most limits the day."
)


@dataclass(frozen=True)
class Limit:
    """`least_min`: working minutes from the start before which work as planned can't end; `eased_min`: by how much
    easing each resource brings that down; `limits`: the one that does most, "" where none does alone."""

    limits: str
    least_min: float
    eased_min: Mapping[str, float]


def limit_of(day: Day, rows: Sequence[Row]) -> Limit:
    """What limits this plan of the day."""
    reckoning = _Reckoning(day, rows)
    shop = calendar.shop_windows(day)

    def working(eased: str) -> float:
        return calendar.length(shop, reckoning.least(eased)) / 60

    least = working("")
    eased = {what: round(least - working(what), 1) for what in RESOURCES}
    best = max(RESOURCES, key=lambda what: eased[what])
    return Limit(best if eased[best] >= 1 else "", round(least, 1), eased)


class _Reckoning:
    def __init__(self, day: Day, rows: Sequence[Row]) -> None:
        self.day, self.rows = day, rows
        self.times = {time.press: time for time in press_times(day, rows)}
        self.ready = {line.key: max(0, day.seconds(line.ready)) if line.ready else 0 for line in day.lines}
        self.pressing = self._by_group()

    def _by_group(self) -> dict[frozenset[str], int]:
        """Seconds of pressing by the presses that could take it."""
        where = takers(self.day)
        found: dict[frozenset[str], int] = {}
        for loading in self._loadings(self.rows):
            group = frozenset(where.get(place_of(loading[0]), {})) | {loading[0].press or ""}
            found[group] = found.get(group, 0) + pressing(loading)
        return found

    def _loadings(self, rows: Iterable[Row]) -> Iterable[list[Row]]:
        found: dict[int, list[Row]] = {}
        for row in rows:
            if row.press is not None and row.loading is not None:
                found.setdefault(row.loading, []).append(row)
        return found.values()

    def least(self, eased: str) -> int:
        """The greatest of the least times with one resource eased, seconds."""
        return max(self._hands(eased), self._presses(eased), self._blanks(eased))

    def _hands(self, eased: str) -> int:
        warm = 0 if eased == "heat" else min((t.warm_up for t in self.times.values() if t.loadings), default=0)
        return _together(self._people(warm, eased), hand_seconds(self.rows))

    def _people(self, begin: int, eased: str) -> list[Spans]:
        people = [calendar.without(calendar.person_windows(self.day, who), [(0, begin)]) for who in self.day.people]
        if eased == "hands":
            people.append(calendar.without(calendar.shop_windows(self.day), [(0, begin)]))
        return people

    def _presses(self, eased: str) -> int:
        found = [0]
        for group in {*self.pressing, frozenset(self.day.presses)}:
            times = [self.times[press] for press in group if press in self.times]
            work = sum(seconds for of, seconds in self.pressing.items() if of <= group)
            work += sum(self._beside(time, eased) for time in times)
            found.append(_together(self._platens(times, eased), work))
        return max(found)

    def _beside(self, time: PressTime, eased: str) -> int:
        """Seconds a press spends on changes and on waiting for peels, for each of its platens."""
        heat = 0 if eased == "heat" else time.setting - time.warm_up
        cooling = 0 if eased == "cooling" else time.cooling
        return (heat + cooling) * self.day.presses[time.press].stations

    def _platens(self, times: Iterable[PressTime], eased: str) -> list[Spans]:
        """The working windows of every platen, after the first warm-up."""
        found = []
        for time in times:
            warm = 0 if eased == "heat" else time.warm_up
            spans = calendar.without(calendar.press_windows(self.day, time.press), [(0, warm)])
            found += [spans] * self.day.presses[time.press].stations * (2 if eased == "presses" else 1)
        return found

    def _blanks(self, eased: str) -> int:
        """By when what is ready at a time could be pressed, and handled, after it."""
        found = [0]
        for at in set(self.ready.values()) - {0} if eased != "blanks" else ():
            rows = [row for row in self.rows if self.ready.get((row.order or "", row.line or ""), 0) >= at]
            platens = [calendar.without(s, [(0, at)]) for s in self._platens(self.times.values(), eased)]
            found.append(_together(platens, sum(map(pressing, self._loadings(rows)))))
            found.append(_together(self._people(at, eased), hand_seconds(rows)))
        return max(found)


def pressing(loading: Sequence[Row]) -> int:
    """Seconds in which some row of one loading is under way on the press."""
    return sum(row.seconds for row in loading)


def _together(spans_of: Sequence[Spans], seconds: int) -> int:
    """The moment by which several hours together hold so many seconds; 0 for none, the last moment if never."""
    low, high = 0, max((spans[-1][1] for spans in spans_of if spans), default=0)
    while low < high:
        middle = (low + high) // 2
        if sum(calendar.length(spans, middle) for spans in spans_of) >= seconds:
            high = middle
        else:
            low = middle + 1
    return low
