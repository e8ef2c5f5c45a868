"""The pictures' data: one plain structure a date of work, in seconds after its midnight, drawn by page.js.

All names stand in it as they were typed; page.js escapes them where it hands them to the drawing.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime, timedelta
from typing import Any

from models.day import Day, Outages
from models.order import Order
from models.plan import Finish, Plan, Row
from scheduler.calendar import Spans, away_spans, open_hours, person_windows, shop_breaks, without
from scheduler.output.layout import on_the_minute
from scheduler.output.names import cut_words, is_personal, names_of
from scheduler.output.page_colour import heat, ink_on, mark
from scheduler.output.page_curve import curves
from scheduler.output.page_facts import Loadings, line_of, loadings_of, run_facts, setting, span_on_press, stations_of
from scheduler.output.page_hands import stretches
from scheduler.output.runs import Run, runs_of

Part = dict[str, Any]

_CUT = 600  # a run's bar is drawn in two where nothing lies on the station for so many seconds
_WHATS = ("load", "prepress", "align", "dwell", "unload", "peel")


def chart_data(day: Day, plan: Plan, rows: Sequence[Row]) -> Part:
    """Everything page.js draws: the orders' marks, the runs' words and one picture a date of work."""
    loadings = loadings_of(rows)
    stations = stations_of(loadings, {press.id: press.stations for press in day.shop.press})
    runs = _runs(rows, loadings, stations)
    orders = list(dict.fromkeys([*day.orders, *(run.order for run, _ in runs)]))
    marks = [mark(number) for number in range(len(orders))]
    lines = {press.id: curves(day, rows, press) for press in day.shop.press}
    dates = sorted({row.start.date() for row in rows})
    return {
        "unit": f"°{day.shop.units.temperature}",
        "whats": _WHATS,
        "orders": [
            {"id": order, "colour": marks[n].colour, "pattern": marks[n].pattern} for n, order in enumerate(orders)
        ],
        "names": {piece: cut_words(row) for piece, row in names_of(day).items()},
        "runs": [_run(day, run, station, orders.index(run.order), loadings, rows) for run, station in runs],
        "days": [_Picture(day, plan, rows, on, runs, loadings, stations, lines).data() for on in dates],
    }


def _runs(rows: Sequence[Row], loadings: Loadings, stations: Mapping[int, int]) -> list[tuple[Run, int]]:
    """The runs of each station on its own, so that two stations' runs are not taken for one."""
    found: list[tuple[Run, int]] = []
    for station in sorted(set(stations.values())):
        kept = [r for r in rows if r.what == "change" or (r.loading is not None and stations.get(r.loading) == station)]
        found += [(run, station) for run in runs_of(kept)]
    return sorted(found, key=lambda pair: (pair[0].start, pair[0].press, pair[1]))


def _run(day: Day, run: Run, station: int, order: int, loadings: Loadings, rows: Sequence[Row]) -> Part:
    coolest, hottest = temperatures(rows)
    fill = heat(run.temperature, coolest, hottest)
    return {
        "press": run.press,
        "station": station,
        "order": order,
        "line": run.line,
        "fill": fill,
        "ink": ink_on(fill),
        "personal": is_personal(day, line_of(day, run.order, run.line), run.placement, run.layers),
        "place": run.placement + (" (repress)" if run.repress else ""),
        "setting": setting(day, run.temperature, run.pressure),
        "degrees": f"{run.temperature}°",
        "facts": run_facts(day, run, loadings),
    }


def temperatures(rows: Sequence[Row]) -> tuple[float, float]:
    """The plan's coolest and hottest set-point."""
    found = [row.temperature for row in rows if row.temperature is not None]
    return (min(found), max(found)) if found else (0.0, 0.0)


class _Picture:
    """One date's picture."""

    def __init__(
        self,
        day: Day,
        plan: Plan,
        rows: Sequence[Row],
        on: date,
        runs: Sequence[tuple[Run, int]],
        loadings: Loadings,
        stations: Mapping[int, int],
        lines: Mapping[str, Mapping[date, Sequence[tuple[int, float]]]],
    ) -> None:
        self.day, self.plan, self.on, self.stations, self.loadings = day, plan, on, stations, loadings
        self.rows = [row for row in rows if row.start.date() == on]
        self.midnight = datetime.combine(on, datetime.min.time())
        self.shift = day.seconds(self.midnight)
        self.runs, self.lines = runs, lines
        self.press_ids = list(dict.fromkeys([*day.presses, *(r.press for r in self.rows if r.press)]))
        self.worked = [p for p in self.press_ids if any(row.press == p for row in self.rows)]
        self.hands = [p for p in day.people if any(row.person == p for row in self.rows)]
        self.open = [(a, b) for a, b in self._of_date(open_hours(day)) if a < b]

    def data(self) -> Part:
        """The date as page.js wants it."""
        start, end = self._reach()
        return {
            "title": f"{self.midnight:%A} {self.on.day} {self.midnight:%B %Y}",
            "midnight": round((self.midnight - datetime(1970, 1, 1)).total_seconds() * 1000),
            "from": start,
            "to": end,
            "presses": [self._press(press) for press in self.worked],
            "people": [{"id": person} for person in self.hands],
            "idle": self._idle(),
            "bars": self._bars(),
            "changes": self._changes(),
            "loads": self._loads(),
            "busy": [self._stretch(*found) for found in stretches(self.rows, self.hands)],
            "shade": [*self._closed(), *self._breaks(), *self._presses_away(), *self._people_away()],
            "due": self._dues(end),
        }

    def _at(self, moment: datetime) -> int:
        return round((moment - self.midnight).total_seconds())

    def _of_date(self, spans: Spans) -> Spans:
        """The part of spans counted from the day's start that lies on this date, after its midnight."""
        moved = [(max(0, a - self.shift), min(86_400, b - self.shift)) for a, b in spans]
        return tuple((a, b) for a, b in moved if a < b)

    def _reach(self) -> tuple[int, int]:
        """From the opening (or the first row) to the last row, due time in opening hours and a little margin."""
        first = min(self._at(row.start) for row in self.rows)
        last = max(self._at(row.end) for row in self.rows)
        opens = min((a for a, _ in self.open), default=first)
        closes = max((b for _, b in self.open), default=last)
        dues = [at for at in map(self._at, self._due_times()) if opens <= at <= max(closes, last)]
        start, end = min(first, opens), max([last, *dues])
        margin = max(60, (end - start) // 60)
        return start - margin, end + margin

    def _due_times(self) -> list[datetime]:
        return [f.due for f in self.plan.orders if f.due is not None and f.due.date() == self.on]

    def _press(self, press: str) -> Part:
        made = self.day.presses.get(press)
        points = self.lines.get(press, {}).get(self.on, ())
        size = "" if made is None else f"{made.platen[0]:g} × {made.platen[1]:g} {self.day.shop.units.length}"
        stations = made.stations if made else 1
        return {
            "id": press,
            "about": size + (f", {stations} stations" if stations > 1 else ""),
            "stations": stations,
            "curve": [[at - self.shift, round(degrees, 1)] for at, degrees in points],
        }

    def _idle(self) -> str:
        """Presses and people with nothing to do on this date, in words: an empty lane would say no more."""
        presses = [press for press in self.day.presses if press not in self.worked]
        people = [person for person in self.day.people if person not in self.hands]
        idle = [f"press {press}{self._out(self.day.down, press, 'down')}" for press in presses]
        return ", ".join([*idle, *(f"{who}{self._out(self.day.absent, who, 'absent')}" for who in people)])

    def _out(self, outages: Outages, name: str, word: str) -> str:
        return f" ({word})" if self._outages(outages.get(name, ()), word) else ""

    def _bars(self) -> list[Part]:
        found: list[Part] = []
        for number, (run, _) in enumerate(self.runs):
            if run.start.date() <= self.on <= run.end.date():
                spans = sorted(span_on_press(self.loadings[n]) for n in run.numbers)
                spans = [span for span in spans if span[0].date() == self.on]
                found += [{"run": number, "a": self._at(a), "b": self._at(b)} for a, b in _joined(spans)]
        return found

    def _changes(self) -> list[Part]:
        found: list[Part] = []
        before: dict[str | None, Row] = {}
        for row in (r for r in self.rows if r.what == "change" and r.press is not None):
            warm_up = row.press not in before
            if row.start < row.end:
                found.append(
                    {
                        "press": row.press,
                        "a": self._at(row.start),
                        "b": self._at(row.end),
                        "warm": warm_up,
                        "to": f"to {self._new_setting(row, before.get(row.press))}",
                        "setting": setting(self.day, row.temperature, row.pressure),
                    }
                )
            before[row.press] = row
        return found

    def _new_setting(self, row: Row, before: Row | None) -> str:
        """What is new in a setting: 320 °F, firm, or 320 °F firm."""
        degrees = f"{row.temperature} °{self.day.shop.units.temperature}"
        if before is None or row.pressure == before.pressure:
            return degrees
        return f"{row.pressure}" if row.temperature == before.temperature else f"{degrees} {row.pressure}"

    def _loads(self) -> list[list[Any]]:
        """Each loading of the date: its number, run, start, pieces and steps.

        A long day has tens of thousands of rows, so that they are told briefly: a piece by what its name adds to
        "<order>-<line>-"; a row by three numbers in a flat list, its start after the loading's, its seconds, and
        what it is (twice the step's number, one more where it is on the press) plus twelve times the person's
        number from 1 (0: nobody).
        """
        run_of = {number: n for n, (run, _) in enumerate(self.runs) for number in run.numbers}
        rows: dict[int, list[Row]] = {}
        for row in self.rows:
            if row.loading is not None and row.loading in run_of:
                rows.setdefault(row.loading, []).append(row)
        return [self._load(number, run_of[number], own) for number, own in sorted(rows.items())]

    def _load(self, number: int, run: int, rows: Sequence[Row]) -> list[Any]:
        start = min(self._at(row.start) for row in rows)
        prefix = f"{rows[0].order}-{rows[0].line}-"
        steps = [part for row in rows for part in (self._at(row.start) - start, row.seconds, self._code(row))]
        return [number, run, start, [piece.removeprefix(prefix) for piece in rows[0].pieces], steps]

    def _code(self, row: Row) -> int:
        person = self.hands.index(row.person) + 1 if row.person in self.hands else 0
        return 2 * _WHATS.index(row.what) + (row.press is not None) + 12 * person

    def _stretch(self, person: int, start: datetime, end: datetime, busy: int, orders: Sequence[str]) -> Part:
        return {"person": person, "a": self._at(start), "b": self._at(end), "busy": busy, "orders": list(orders)}

    def _closed(self) -> list[Part]:
        closed = without([(0, 86_400)], self.open)
        return [{"a": a, "b": b, "word": "closed"} for a, b in closed]

    def _breaks(self) -> list[Part]:
        return [{"a": a, "b": b, "word": "break"} for a, b in self._of_date(shop_breaks(self.day))]

    def _presses_away(self) -> list[Part]:
        found: list[Part] = []
        for press in (p for p in self.worked if p in self.day.presses):
            down = self._outages(self.day.down.get(press, ()), "down")
            away = without(self._of_date(away_spans(self.day, press)), [(part["a"], part["b"]) for part in down])
            found += [
                {"press": press, **part} for part in (*down, *({"a": a, "b": b, "word": "away"} for a, b in away))
            ]
        return found

    def _outages(self, outages: Sequence[tuple[datetime, datetime | None]], word: str) -> list[Part]:
        """What the log says was out of work, on this date, with until when."""
        found: list[Part] = []
        for start, end in outages:
            until = ", nobody knows until when" if end is None else f" until {self._clock(end)}"
            beyond = datetime.combine(self.on, datetime.max.time())
            span = (self.day.seconds(start), self.day.seconds(min(end or beyond, beyond)))
            found += [{"a": a, "b": b, "word": word, "long": word + until} for a, b in self._of_date((span,))]
        return found

    def _clock(self, at: datetime) -> str:
        return f"{at:%H:%M}" if at.date() == self.on else f"{at:%a} {at.day} {at:%b} {at:%H:%M}"

    def _people_away(self) -> list[Part]:
        """When someone is not there while the shop is open and has no break of its own."""
        found: list[Part] = []
        shop = without(self.open, self._of_date(shop_breaks(self.day)))
        for n, person in enumerate(self.hands):
            there = self._of_date(person_windows(self.day, person))
            out = self._outages(self.day.absent.get(person, ()), "absent")
            gone = without(shop, [*there, *((part["a"], part["b"]) for part in out)])
            found += [
                {"person": n, **part} for part in (*out, *({"a": a, "b": b, "word": "not there"} for a, b in gone))
            ]
        return found

    def _dues(self, end: int) -> list[Part]:
        """Due times on this picture, orders with the same time and fate together."""
        found: dict[tuple[int, bool], list[Finish]] = {}
        for order in self.plan.orders:
            if order.due is not None and order.due.date() == self.on and self._at(order.due) <= end:
                found.setdefault((self._at(order.due), bool(order.late_min)), []).append(order)
        return [
            {
                "at": at,
                "late": late,
                "orders": [order.order for order in orders],
                "facts": [_finish_words(self.day.orders.get(order.order), order) for order in orders],
            }
            for (at, late), orders in sorted(found.items(), key=lambda item: item[0])
        ]


def _joined(spans: Sequence[tuple[datetime, datetime]]) -> list[tuple[datetime, datetime]]:
    joined: list[tuple[datetime, datetime]] = []
    for start, end in spans:
        if joined and start - joined[-1][1] < timedelta(seconds=_CUT):
            joined[-1] = (joined[-1][0], max(end, joined[-1][1]))
        else:
            joined.append((start, end))
    return joined


def _finish_words(order: Order | None, finish: Finish) -> str:
    who = f" · {finish.customer}" if order and finish.customer else ""
    fate = f"late by {-(-finish.late_min // 1):.0f} min" if finish.late_min else "on time"
    done = on_the_minute(finish.finish, up=True)
    return f"Order {finish.order}{who}: due {finish.due:%H:%M}, done {done:%a %H:%M}, {fate}"
