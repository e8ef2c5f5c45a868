"""From where a day stands at a moment to what the solver plans from: what stands, and lots of pieces with their way.

Frozen are the loadings dressed before the moment on a press that works, to the end of their peels, and changes begun.
Everything else is free.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime

from models.day import Day
from models.log import Entry
from models.plan import Logged, Row
from models.shop import Press
from scheduler import calendar, thermal
from scheduler.calendar import Spans
from scheduler.instance import Chain, Instance, Lot, PressStands, Routes, Standing
from scheduler.logbook import State, state_at
from scheduler.logbook.history import UNSETTLED, Course, Settled
from scheduler.logbook.presses import Heat
from scheduler.logbook.spans import Out, in_time, outs, spans_of
from scheduler.logbook.state import Taken
from scheduler.replanning.routes import chain_left, old_chains, operations_of, refuse_strange
from scheduler.replanning.takeover import hand_over
from scheduler.replanning.wanted import day_under_log
from scheduler.replanning.worked import Worked, changes_that_stand
from scheduler.timetable.record import Change, Loading

_BUCKET_S = 900  # pieces of one line that can be taken up within so much of each other travel as one lot


@dataclass(frozen=True)
class Carried:
    """A day taken up at a moment. `rows` stand; `instance` is what is left to plan; `logged` is done by the log's
    word alone; `course` the loadings of the plan before, `taken` those of them that stand."""

    day: Day
    state: State
    rows: list[Row]
    instance: Instance
    logged: tuple[Logged, ...]
    course: Course
    taken: tuple[Taken, ...]
    lot_of: Mapping[str, int]
    rest: Rest | None


@dataclass(frozen=True)
class Rest:
    """What the plan before still has to do, to the second: a plan for the rest as long as nothing touches it."""

    rows: list[Row]
    loadings: list[Loading]
    changes: list[Change]


def carry(
    day: Day,
    routes: Routes,
    rows: Sequence[Row],
    log: Sequence[Entry],
    at: datetime,
    settled: Settled = UNSETTLED,
) -> Carried:
    """Take up a day at a moment, by its plan's rows and its log. Raises BadInput where what was worked is unknown."""
    return _Carrying(day, routes, rows, log, at, settled).run()


class _Carrying:
    def __init__(
        self,
        day: Day,
        routes: Routes,
        rows: Sequence[Row],
        log: Sequence[Entry],
        at: datetime,
        settled: Settled,
    ) -> None:
        self.routes, self.rows, self.at, self.settled = routes, rows, at, settled
        self.log = [entry for entry in in_time(log) if entry.at <= at]
        self.downs, self.absent = outs(self.log, "press"), outs(self.log, "person")
        self.course = Course(rows)
        begun = [loading for loading in self.course.loadings if loading.start < at]
        refuse_strange(day, routes, begun)
        self.state, self.taken = self._as_handed_over(day)
        self.day = day_under_log(day, self.state)
        self.now = day.seconds(at)
        self.open_hours = calendar.open_hours(day)
        self.numbers = {piece: n for line in day.lines for n, piece in enumerate(line.pieces, 1)}

    def _as_handed_over(self, day: Day) -> tuple[State, tuple[Taken, ...]]:
        """Where things stand, with somebody in the place of those who left; what nobody took over is given up."""
        left: dict[int, datetime] = {}
        while True:
            state = state_at(day, self.rows, self.log, self.at, self.settled, left)
            handed = hand_over(day, state, self.absent, self._latest(day, state))
            fresh = {
                number: moment for number, moment in handed.left.items() if moment < left.get(number, datetime.max)
            }
            if not fresh:
                return state, tuple(item for item in handed.taken if item.rows)
            left |= fresh

    def _latest(self, day: Day, state: State) -> dict[int, int]:
        """By loading: the latest moment of its peel off the press, seconds from the opening, where there is one."""
        operations = {line.key: dict(operations_of(line, self.routes)) for line in day.lines}
        found = {}
        for item in state.taken:
            peel = next((row for row in item.rows if row.press is None), None)
            if peel is not None:
                operation = operations[item.loading.order, item.loading.line][peel.placement or "", peel.operation or 0]
                if operation.peel_after is not None and operation.peel_after.hi is not None:
                    found[item.loading.number] = operation.peel_after.hi
        return found

    def run(self) -> Carried:
        lots, chains, lot_of = self._lots()
        history = {line.key: len(lots) + n for n, line in enumerate(self.day.lines)}
        routes = {line.key: self.routes[line.garment, line.design][0] for line in self.day.lines}
        lots += [Lot(line, ()) for line in self.day.lines]
        chains += [Chain(routes[line.key], ()) for line in self.day.lines]
        standing, rows = self._standing(history)
        instance = Instance(self.day, chains, lots, standing)
        rest = self._rest(history, lot_of, instance)
        return Carried(self.day, self.state, rows, instance, self._logged(), self.course, self.taken, lot_of, rest)

    def _rest(
        self, history: Mapping[tuple[str, str], int], lot_of: Mapping[str, int], instance: Instance
    ) -> Rest | None:
        """The plan before from now on; None where something bears on it."""
        taken = {item.loading.number for item in self.taken}
        left = [x for x in self.course.loadings if x.number not in taken]
        free = {
            (n, instance.lots[lot].line.key): at for lot in set(lot_of.values()) for at, n in instance.lots[lot].pieces
        }
        firsts: dict[str, datetime] = {}
        for loading in left:
            for piece in loading.pieces:
                firsts.setdefault(piece, loading.start)
        touched = (
            any(stands.off_since is not None for stands in instance.standing.presses) if instance.standing else True
        )
        touched = touched or any(
            out.end is None or out.end > self.at for spans in self.absent.values() for out in spans
        )
        touched = touched or firsts.keys() != lot_of.keys() or any(x.start < self.at for x in left)
        touched = touched or any(
            self.day.seconds(start) < free[self.numbers[piece], instance.lots[lot_of[piece]].line.key]
            for piece, start in firsts.items()
        )
        if touched:
            return None
        operations = {line.key: dict(operations_of(line, self.routes)) for line in self.day.lines}
        worked, seen, loadings = Worked(self.day, operations, history), {p for t in self.taken for p in t.pieces}, []
        for loading in left:
            whole = Taken(loading, loading.pieces, loading.rows, loading.end, False, frozenset())
            loadings.append(worked.loading(whole, bool(seen & set(loading.pieces))))
            seen |= set(loading.pieces)
        changes = [row for row in self.rows if row.what == "change"]
        later = [c for c in worked.changes(changes) if c.start >= self.now]
        rows = [r for r in self.rows if (r.start >= self.at if r.what == "change" else r.loading not in taken)]
        return Rest(rows, loadings, later)

    def _standing(self, history: Mapping[tuple[str, str], int]) -> tuple[Standing, list[Row]]:
        operations = {line.key: dict(operations_of(line, self.routes)) for line in self.day.lines}
        worked = Worked(self.day, operations, history)
        changes = changes_that_stand([r for r in self.rows if r.what == "change" and r.start < self.at], self.downs)
        seen: set[tuple[str, int]] = set()
        loadings, rows = [], [*changes]
        for item in sorted(self.taken, key=lambda t: t.loading.start):
            blanks = {(piece, self._spoils_before(piece, item.loading.start)) for piece in item.pieces}
            loadings.append(worked.loading(item, bool(blanks & seen)))
            if any(row.what == "dwell" for row in item.rows):
                seen |= blanks
            rows += [row if row.pieces == item.pieces else replace(row, pieces=item.pieces) for row in item.rows]
        standing = Standing(
            at=self.now,
            presses=tuple(self._stands(press, changes) for press in self.day.shop.press),
            busy=tuple(self._busy(who) for who in self.day.people),
            down=tuple(self._spans(self.downs.get(press, ())) for press in self.day.presses),
            rack=tuple(self._rack()),
            loadings=tuple(loadings),
            changes=tuple(worked.changes(changes)),
        )
        return standing, rows

    def _spoils_before(self, piece: str, moment: datetime) -> int:
        """How many blanks of a piece had been spoiled by then."""
        return sum(1 for e in self.log if e.what == "spoiled" and piece in e.pieces and e.at <= moment)

    def _spans(self, spans: Sequence[Out]) -> Spans:
        return spans_of(self.day, spans)

    def _busy(self, who: str) -> Spans:
        mine = [r for item in self.taken for r in item.rows if r.person == who and r.end > self.at]
        spans = [(self.day.seconds(r.start), self.day.seconds(r.end)) for r in mine]
        return calendar.union([*spans, *self._spans(self.absent.get(who, ()))])

    def _rack(self) -> list[tuple[int, int]]:
        """What lies or will lie on the rack until its peel begins, counted from now on."""
        found = []
        for item in self.taken:
            peel = next((row for row in item.rows if row.press is None), None)
            if peel is not None and peel.start > self.at:
                found.append((self.day.seconds(peel.start), len(item.pieces)))
        return found

    def _stands(self, press: Press, changes: Sequence[Row]) -> PressStands:
        mine = [row for row in changes if row.press == press.id]
        lying = [item for item in self.taken if item.loading.press == press.id]
        downs = self.downs.get(press.id, ())
        heat = Heat(self.day, press, mine, [item.loading for item in lying], downs)
        last = max(mine, key=lambda row: row.end, default=None)
        ends = [max(r.end for r in item.rows if r.press) for item in lying if not item.ended]
        off = [self.day.seconds(end) for end in ends if end > self.at]
        shut = [r.end for item in lying for r in item.rows if r.what in ("dwell", "prepress") and r.end > self.at]
        stood_down = [out for out in downs if last is not None and out.start >= last.start]
        back = next((self.day.seconds(o.end) for o in downs if o.holds(self.at) and o.end is not None), self.now)
        warmed = -1 if last is None else self._opening_day(last.start)
        pressed = any(item.loading.start >= out.start for out in stood_down for item in lying)
        off_now = (bool(stood_down) and not pressed) or (last is None and bool(downs))
        change_end = max((self.day.seconds(row.end) for row in mine), default=0)
        setting = None if last is None or off_now else (last.temperature or 0, last.pressure or "")
        shown = heat.showing(self.at).temperature if last or downs else thermal.at_start(press, heat.room)
        return PressStands(
            temperature=float(setting[0]) if setting else shown,
            free=max(self.now, change_end, back),
            setting=setting,
            pressure=self._pressure(last, stood_down),
            warmed=warmed,
            off_since=self.now if off_now else None,
            lying=tuple(off),
            shut_until=max((self.day.seconds(end) for end in shut), default=0),
        )

    def _pressure(self, last: Row | None, downs: Sequence[Out]) -> str | None:
        """The pressure last set, as far as it is known: a change cut short may not have come to it."""
        return None if last is None or any(out.start <= last.end for out in downs) else last.pressure

    def _opening_day(self, moment: datetime) -> int:
        second = self.day.seconds(moment)
        return next((i for i, (a, b) in enumerate(self.open_hours) if a <= second < b), -1)

    def _lots(self) -> tuple[list[Lot], list[Chain], dict[str, int]]:
        chains = old_chains(self.day, self.routes, self.course)
        presses = frozenset(press for press in self.day.presses if self._works_again(press))
        grouped: dict[tuple[int, tuple[tuple[str, int], ...], int], list[tuple[int, int]]] = defaultdict(list)
        for index, line in enumerate(self.day.lines):
            if line.key in self.state.cancelled:
                continue
            for piece in line.pieces:
                progress = self._progress(piece)
                if progress is not None:
                    done, ready = progress
                    bucket = max(0, ready - self.now) // _BUCKET_S
                    grouped[index, tuple(sorted(done.items())), bucket].append((ready, self.numbers[piece]))
        lots: list[Lot] = []
        left: list[Chain] = []
        lot_of: dict[str, int] = {}
        for (index, told, _), pieces in grouped.items():
            line, done = self.day.lines[index], dict(told)
            chain = chain_left(self.day, self.routes[line.garment, line.design], chains[line.key], done, presses)
            if chain.groups:
                lot_of.update({line.piece(n): len(lots) for _, n in pieces})
                lots.append(Lot(line, tuple(sorted(pieces)), fresh=not any(done.values())))
                left.append(chain)
        return lots, left, lot_of

    def _works_again(self, press: str) -> bool:
        closed = [(0, self.now), *self._spans(self.downs.get(press, ()))]
        return bool(calendar.without(calendar.press_windows(self.day, press), closed))

    def _progress(self, piece: str) -> tuple[dict[str, int], int] | None:
        """What of a piece is over once what stands has been worked, and when it is free; None: it is finished."""
        known = self.state.pieces[piece]
        if known.status == "finished":
            return None
        done = dict(known.done)
        line = next(ln for ln in self.day.lines if ln.key == (known.order, known.line))
        ready = max(self.now, self.day.seconds(line.ready) if line.ready and not known.begun else 0)
        if known.ready is not None and not known.begun:
            ready = max(self.now, self.day.seconds(known.ready))
        for item in self.taken:
            if piece in item.pieces and piece not in item.lost:
                for closing in item.loading.closings:
                    place, number = closing.step
                    if self._stands_closed(item, number):
                        done[place] = max(done.get(place, 0), number)
                rows = [row.end for row in item.rows]
                ready = max([ready, *(self.day.seconds(end) for end in rows)])
        return done, ready

    def _stands_closed(self, item: Taken, number: int) -> bool:
        return any(row.what == "dwell" and row.operation == number for row in item.rows)

    def _logged(self) -> tuple[Logged, ...]:
        """Operations done by the log's word: those of the pieces that go on which no row that stands tells of."""
        told = {
            (piece, row.placement, row.operation)
            for item in self.taken
            for row in item.rows
            if row.what == "dwell"
            for piece in item.pieces
        }
        found = {(x.piece, x.placement, x.operation): x for x in self.settled.logged if self._still_done(x)}
        for piece, known in self.state.pieces.items():
            for entry in self.log:
                if entry.what == "done" and entry.press is not None and piece in entry.pieces:
                    for place, number in known.done.items():
                        for n in range(1, number + 1):
                            if (piece, place, n) not in told:
                                item = self._told(piece, place, n, entry.at)
                                found.setdefault((piece, place, n), item)
        return tuple(found.values())

    def _told(self, piece: str, place: str, number: int, at: datetime) -> Logged:
        key = (self.state.pieces[piece].order, self.state.pieces[piece].line)
        line = next(ln for ln in self.day.lines if ln.key == key)
        layers = dict(operations_of(line, self.routes))[place, number].layers
        return Logged(piece=piece, placement=place, operation=number, layers=layers, at=at)

    def _still_done(self, item: Logged) -> bool:
        """Whether the blank it was done on is still good."""
        known = self.state.pieces.get(item.piece)
        return known is not None and known.done.get(item.placement, 0) >= item.operation
