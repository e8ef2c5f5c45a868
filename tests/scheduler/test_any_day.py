"""Any legal day gets a plan that passes the audit, or a reason that is true.

The second reckoning of a reason knows nothing of the planner: it asks whether each closing, alone, would go onto some
press with some person within one stretch of a working day, after the warm-up that day begins with: on the first day
from what the press shows at the start, later from what a night leaves of its heat. If every closing would on a later
day, and there are no more of them than days, then a day a closing is a plan, and "no plan" would be a lie. If one
closing cannot be placed on any day though nothing else is pressed on it, or if together they ask for more of platens or
of hands than there is, then there is no plan. Where the planner says that there is none, this reckoning must be sure of
it too; where it only found none it has to say that this proves nothing.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterator
from datetime import timedelta
from typing import Any

import pytest
from hypothesis import event, given, settings
from hypothesis import strategies as st

from models.catalog import Film, Garment
from models.day import Day
from models.design import Placement
from models.problem import BadInput, NoPlan
from models.shop import Person, Press
from scheduler.audit import audit_rows
from scheduler.audit.art import extent, fits, overlaps
from scheduler.audit.heat import change_time, cooled, fallen
from scheduler.audit.recipe import Step, recipe
from scheduler.planning import plan_day
from scheduler.timetable.shortage import UNPROVEN
from tests.scheduler.breakdown.days import PRESS, TEE, Table, film, pile, strip
from tests.scheduler.days import START, day

LONG = pytest.mark.thorough
DAYS = 14  # days on which something can be planned


def pick(draw: st.DrawFn, *options: Any) -> Any:
    """One of the options, the first the simplest."""
    return draw(st.sampled_from(options))


@st.composite
def days(draw: st.DrawFn) -> Day:
    """A legal day of at most eight pieces, in a shop that may open for minutes, or have no press that fits."""
    films = [_film(draw, f"f{n}") for n in range(pick(draw, 1, 2))]
    designs = {f"d{n}": _places(draw, len(films)) for n in range(pick(draw, 1, 2))}
    orders = [(pick(draw, *designs), pick(draw, 1, 2, 4), _fields(draw)) for _ in range(pick(draw, 1, 2))]
    presses = [_press(draw, n) for n in range(pick(draw, 1, 2))]
    people = [_person(draw, n, presses) for n in range(pick(draw, 1, 2))]
    garment = {**TEE, "max_temperature": pick(draw, 400, 400, 400, 400, 310, 290), "cooling_tau_s": pick(draw, 30, 120)}
    garment["prepress_s"] = pick(draw, 0, 4)
    hours = {"open": "08:00", "close": pick(draw, "17:00", "17:00", "08:30", "08:30", "08:12", "08:02", "08:01")}
    hours["breaks"] = pick(draw, [], [["08:10", "08:20"]], [["08:00", "08:08"]])
    rules = {"late_open_s": 3, **({} if pick(draw, True, False) else {"rack": pick(draw, 4, 1)})}
    return day(films, designs, orders, garments=[garment], presses=presses, people=people, hours=hours, rules=rules)


def _film(draw: st.DrawFn, name: str) -> Table:
    low = pick(draw, 300, 300, 300, 280, 330)
    given: dict[str, Any] = {
        "temperature": [low, low + pick(draw, 20, 0)],
        "dwell_s": pick(draw, 12, 12, [10, 15], 200),
    }
    given["peel"] = pick(draw, "hot", "warm", "cold")
    if pick(draw, False, False, False, True):
        given["peel_below"] = pick(draw, 150, 90)
        given["peel_after_s"] = pick(draw, [0, None], [0, 60]) if given["peel"] == "cold" else [0, 60]
    for key, values in (("reheats", (9, 1, 0)), ("reheat_max", (400, 310)), ("repress_s", (5,))):
        if pick(draw, False, False, False, True):
            given[key] = pick(draw, *values)
    return film(name, **given)


def _places(draw: st.DrawFn, films: int) -> dict[str, list[Table]]:
    def layers() -> list[Table]:
        return [
            (pile if pick(draw, True, False) else lambda f: strip(f, 3))(f"f{pick(draw, *range(films))}")
            for _ in range(pick(draw, 1, 2))
        ]

    return {at: layers() for at in ("front", "back")[: pick(draw, 1, 2)]}


def _fields(draw: st.DrawFn) -> dict[str, Any]:
    given: dict[str, Any] = {}
    if pick(draw, False, True):
        given["due"] = START + timedelta(minutes=pick(draw, 60, 5))
    if pick(draw, False, True):
        given["ready"] = START + timedelta(minutes=pick(draw, 5, 5, 5, 600, 60 * 24 * 30))
    return given


def _press(draw: st.DrawFn, number: int) -> Table:
    given: dict[str, Any] = {"id": f"m{number}", "temperature": pick(draw, *[[200, 430]] * 4, [200, 305], [320, 430])}
    given["stations"], given["auto_open"] = pick(draw, 1, 2), pick(draw, False, True)
    given["platen"] = pick(draw, *[[16, 20]] * 5, [3, 20], [11, 3])
    given["at_start"], given["settle_s"] = pick(draw, 310, 72), pick(draw, 0, 60)
    if pick(draw, False, False, False, True):
        given["placements"] = pick(draw, ["front"], ["back"])
    return {**PRESS, **given}


def _person(draw: st.DrawFn, number: int, presses: list[Table]) -> Table:
    given: dict[str, Any] = {"id": f"w{number}", "pace": pick(draw, 1.0, 0.8, 2.0)}
    if pick(draw, False, True):
        given["presses"] = [pick(draw, *(p["id"] for p in presses))]
    if pick(draw, False, True):
        given |= {"open": "08:00", "close": pick(draw, "09:00", "08:03")}
    return given


# --- the second reckoning --------------------------------------------------------------------------------------


def ways(made: Day, garment: Garment, places: dict[str, Placement]) -> list[tuple[Step, ...]]:
    """Every legal sequence of closings of a piece, by the auditor's recipe and by trying all."""
    design = next(d for d in made.design.values() if {p.at: p for p in d.placement} == places)
    found: list[tuple[Step, ...]] = []

    def grow(done: tuple[Step, ...], left: dict[str, frozenset[int]]) -> None:
        if not any(left.values()):
            needs = recipe(made, garment, design, done)
            if not needs.wrong and all(_cools(made, garment, need) for need in needs.needs):
                found.append(done)
            return
        for at, layers in left.items():
            for group in _subsets(sorted(layers)):
                again = any(made.films[places[at].layer[n - 1].film].repress_s is not None for n in group)
                closing: tuple[Step, ...] = ((at, group), *([(at, ())] if again else []))
                grow((*done, *closing), {**left, at: layers - set(group)})

    grow((), {at: frozenset(range(1, len(place.layer) + 1)) for at, place in places.items()})
    return found


def _subsets(items: list[int]) -> list[tuple[int, ...]]:
    return [tuple(x for k, x in enumerate(items) if mask >> k & 1) for mask in range(1, 1 << len(items))]


def _cools(made: Day, garment: Garment, need: Any) -> bool:
    if not need.peel:
        return True
    low, latest = max(b.lo for b in need.temperature), min(b.hi for b in need.peel)
    return all(_cooling(made, garment, f, low) <= latest for f in need.films)


def _cooling(made: Day, garment: Garment, one: Film, hot: float) -> float:
    if one.peel_below is None:
        return 0
    assert garment.cooling_tau_s is not None
    return cooled(garment.cooling_tau_s, hot, one.peel_below, made.shop.room_temperature)


class Alone:
    """One closing of one piece by itself: how long it keeps a press and a person, on each of the presses it fits."""

    def __init__(self, made: Day, garment: Garment, place: Placement, need: Any) -> None:
        self.made, self.garment, self.place, self.need = made, garment, place, need
        self.low, self.high = max(b.lo for b in need.temperature), min(b.hi for b in need.temperature)

    def set_points(self, press: Press) -> range:
        """The whole degrees both stand, none where the platen or the press's lists refuse it."""
        refuses = (press.placements is not None and self.place.at not in press.placements) or not fits(
            extent(self.place), press.platen
        )
        low, high = max(self.low, math.ceil(press.temperature[0])), min(self.high, math.floor(press.temperature[1]))
        return range(0) if refuses else range(int(low), int(high) + 1)

    def seconds(self, press: Press, pace: float, setpoint: int, peeled: bool = True) -> float:
        """From the first touch to the last peel's end, hands at once; infinite where the peel cannot be in time.

        Not `peeled`: what is peeled off the press may be so at another time, and by another."""
        hands, garment = self.made.shop.hands, self.garment
        load, unload, align, peel = (
            math.ceil(pace * s - 1e-9)
            for s in (
                garment.load_s or hands.load_s,
                garment.unload_s or hands.unload_s,
                self.need.align_s,
                self.need.peel_s,
            )
        )
        pressed = load + align + max(b.lo for b in self.need.dwell)
        pressed += self.need.prepress.lo if self.need.prepress is not None else 0
        if not self.need.peel:
            return pressed + unload
        earliest = max(b.lo for b in self.need.peel)
        earliest = max([earliest, *(_cooling(self.made, garment, f, setpoint) for f in self.need.films)])
        latest = min(b.hi for b in self.need.peel)
        if earliest > latest:
            return math.inf
        on_press = math.inf if earliest > 0 and not press.auto_open else earliest + peel + unload
        off_press = math.inf if unload > latest else max(earliest, unload) + peel if peeled else unload
        return pressed + min(on_press, off_press)

    def surely(self) -> bool:
        """Whether some press and person have the time for it in one stretch of a later day, whatever the press was
        left at."""
        return any(
            self._holds(self.spans([who]), press, who.pace, setpoint, self._warm(press, setpoint, True), peeled=True)
            for press in self.made.shop.press
            for who in self._crew(press)
            for setpoint in self.set_points(press)
        )

    def first_day(self, ready: float) -> bool:
        """Whether some press and its crew have the time for it on the first day, with nothing else to do; the garments
        are there so many seconds after the start."""
        return any(
            self._holds(spans, press, pace, setpoint, max(ready, self._change(press, self._at_start(press), setpoint)))
            for press, spans, pace, setpoint in self._ways()
        )

    def later(self) -> bool:
        """The same for a later day."""
        return any(
            self._holds(spans, press, pace, setpoint, self._warm(press, setpoint, False))
            for press, spans, pace, setpoint in self._ways()
        )

    def asks(self) -> tuple[float, float]:
        """The least seconds of a platen and of hands of pace 1 that it takes."""
        hands, garment = self.made.shop.hands, self.garment
        rows = [garment.load_s or hands.load_s, garment.unload_s or hands.unload_s, self.need.align_s]
        rows += [self.need.peel_s] if self.need.peel else []
        platen = [self.seconds(press, pace, setpoint, peeled=False) for press, _, pace, setpoint in self._ways()]
        return min(platen, default=0.0), float(sum(rows))

    def _ways(self) -> Iterator[tuple[Press, list[tuple[int, int]], float, int]]:
        for press in self.made.shop.press:
            crew = self._crew(press)
            if crew:
                pace = min(who.pace for who in crew)
                yield from ((press, self.spans(crew), pace, setpoint) for setpoint in self.set_points(press))

    def _crew(self, press: Press) -> list[Person]:
        return [who for who in self.made.shop.person if who.presses is None or press.id in who.presses]

    def _holds(
        self,
        spans: list[tuple[int, int]],
        press: Press,
        pace: float,
        setpoint: int,
        start: float,
        peeled: bool = False,
    ) -> bool:
        needed = self.seconds(press, pace, setpoint, peeled)
        return any(b - max(a, start) >= needed for a, b in spans)

    def _warm(self, press: Press, setpoint: int, surely: bool) -> float:
        """The most, or the least, that warming up takes on a later day."""
        times = [self._change(press, shown, setpoint) for shown in self._in_the_morning(press)]
        return max(times) if surely else min(times)

    def _change(self, press: Press, shown: float, setpoint: int) -> float:
        return change_time(press, (shown, None), (setpoint, None), self.made.shop.room_temperature)

    def _at_start(self, press: Press) -> float:
        return self.made.shop.room_temperature if press.at_start is None else press.at_start

    def _in_the_morning(self, press: Press) -> list[float]:
        """The least and the most a press shows when a later day begins."""
        hours, room = self.made.shop.hours, self.made.shop.room_temperature
        night = 86_400 - (hours.close - hours.open)
        return [room, fallen(press, max(*press.temperature, self._at_start(press)), night, room)]

    def spans(self, crew: list[Person]) -> list[tuple[int, int]]:
        """What their day leaves between the shop's breaks, seconds after it opens; all come when the first does."""
        hours = self.made.shop.hours
        opens = max(hours.open, min(who.open or 0 for who in crew))
        closes = min(hours.close, max(who.close or 86_400 for who in crew))
        spans, at = [], opens
        for a, b in sorted(hours.breaks):
            spans.append((at, min(a, closes)))
            at = max(at, b)
        return [(a - hours.open, b - hours.open) for a, b in [*spans, (at, closes)] if a < b]


def alone(made: Day, steps: tuple[Step, ...], line: Any) -> list[Alone]:
    """The closings of one way, each by itself."""
    garment, design = made.garments[line.garment], made.design[line.design]
    places = {place.at: place for place in design.placement}
    return [Alone(made, garment, places[n.step[0]], n) for n in recipe(made, garment, design, steps).needs]


def places_of(made: Day, line: Any) -> dict[str, Placement]:
    """The placements of a line's design."""
    return {place.at: place for place in made.design[line.design].placement}


def surely_possible(made: Day) -> bool:
    """A closing a day, each on a press from any temperature, everything ready: that would be a plan."""
    count = 0
    for line in made.lines:
        legal = ways(made, made.garments[line.garment], places_of(made, line))
        good = [w for w in legal if all(a.surely() for a in alone(made, w, line))]
        if not good or (line.ready is not None and line.ready > made.start + timedelta(hours=12)):
            return False
        count += line.quantity * min(len(w) for w in good)
    return count < DAYS - 1


def too_much(made: Day) -> bool:
    """What all days, or the first alone, would have to hold is more than platens or hands have time for."""
    shop = made.shop
    one = None
    all_days, first = [0.0, 0.0], [0.0, 0.0]
    for line in made.lines:
        legal = [alone(made, w, line) for w in ways(made, made.garments[line.garment], places_of(made, line))]
        for held, chosen in ((all_days, lambda a: True), (first, lambda a: not a.later())):
            for n in (0, 1):
                held[n] += line.quantity * min(sum(a.asks()[n] for a in way if chosen(a)) for way in legal)
        one = legal[0][0]
    assert one is not None
    opened = sum(b - a for a, b in one.spans(list(shop.person)))
    platens = opened * sum(press.stations for press in shop.press)
    hands = sum((b - a) / who.pace for who in shop.person for a, b in one.spans([who]))
    room = ((all_days, DAYS), (first, 1))
    return any(held[0] > count * platens + 1e-6 or held[1] > count * hands + 1e-6 for held, count in room)


def surely_impossible(made: Day) -> bool:
    """Some line has no way whose every closing would go onto a press on some day, were it alone there; or there is too
    much of it."""
    return too_much(made) or any(
        (line.ready is not None and line.ready > made.start + timedelta(days=DAYS))
        or not any(
            all(a.later() or a.first_day(_ready(made, line)) for a in alone(made, w, line))
            for w in ways(made, made.garments[line.garment], places_of(made, line))
        )
        for line in made.lines
    )


def _ready(made: Day, line: Any) -> float:
    return 0.0 if line.ready is None else max(0.0, (line.ready - made.start).total_seconds())


def judge(made: Day) -> str:
    """What came of a day, having checked that it is right."""
    try:
        planned = plan_day(made, "quick")
    except BadInput as wrong:
        legal = [ways(made, made.garments[ln.garment], places_of(made, ln)) for ln in made.lines]
        assert not all(legal) or _top_only(made), str(wrong)
        return "not legal"
    except NoPlan as none:
        assert none.reasons and all(len(reason) > 20 for reason in none.reasons)
        assert not surely_possible(made), none.reasons
        surely = surely_impossible(made)
        assert surely or none.reasons[-1] == UNPROVEN
        return f"no plan, {'surely' if surely else 'not proven'}{'' if none.reasons[-1] == UNPROVEN else ', proven'}"
    assert audit_rows(planned.day, planned.rows) == []
    assert not surely_impossible(made)
    return "planned, surely" if surely_possible(made) else "planned"


def _top_only(made: Day) -> bool:
    """Whether art lies on a film that bears nothing."""
    return any(
        made.films[place.layer[low - 1].film].top_only
        for design in made.design.values()
        for place in design.placement
        for low, _ in overlaps(place)
    )


@settings(max_examples=25, deadline=None, derandomize=True)
@given(days())
def test_any_day_gets_a_sound_plan_or_a_true_reason(made: Day) -> None:
    """A plan without a finding, or no plan where the second reckoning agrees that there is none."""
    event(judge(made))


@LONG
@settings(max_examples=1500, deadline=None, derandomize=True)
@given(days())
def test_many_days_get_a_sound_plan_or_a_true_reason(made: Day) -> None:
    """The same on many more days."""
    event(judge(made))


def test_days_of_all_sorts_are_drawn() -> None:
    """The check above sees days with a plan and without, and the second reckoning is sure of most."""
    seen: Counter[str] = Counter()

    @settings(max_examples=60, deadline=None, derandomize=True, database=None)
    @given(days())
    def draw(made: Day) -> None:
        seen[judge(made)] += 1

    draw()
    assert seen["planned, surely"] and seen["no plan, surely, proven"] and seen["not legal"]
    assert seen["no plan, not proven"] <= sum(seen.values()) / 20
