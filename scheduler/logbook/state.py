"""Where things stand at a moment: pieces, presses and people, from the plan and the log."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from functools import cached_property
from typing import Literal

from models.day import Day
from models.log import Entry
from models.order import OrderLine
from models.plan import Row
from scheduler.logbook.history import UNSETTLED, Course, History, Key, Settled, Story, lines_of
from scheduler.logbook.loadings import Closing, Loading
from scheduler.logbook.presses import Heat, Setting
from scheduler.logbook.spans import Out, in_time

PieceStatus = Literal["finished", "in hand", "cooling", "waiting", "spoiled", "cancelled"]
STATUSES: tuple[PieceStatus, ...] = ("finished", "in hand", "cooling", "waiting", "spoiled", "cancelled")


@dataclass(frozen=True, slots=True)
class PieceState:
    """One piece. `done` gives each placement's last operation that is over, its peel included (0: none).

    `loading` and `press` tell where it is in hand, or what it cools from. `begun`: its present blank has been on
    a press. `again`: it lay under a press that went down and must be pressed again. `ready`: a time from the log
    before which its blank is not there. `spoiled`: when its blank was last spoiled. "spoiled" as a status means
    that the new blank has not been begun.
    """

    piece: str
    order: str
    line: str
    status: PieceStatus
    done: Mapping[str, int]
    loading: int | None = None
    press: str | None = None
    begun: bool = False
    again: bool = False
    ready: datetime | None = None
    spoiled: datetime | None = None


@dataclass(frozen=True, slots=True)
class InHand:
    """A loading on a working press, with all its planned rows, a peel off the press included; `pieces` are those
    of it that still count."""

    loading: int
    press: str
    pieces: tuple[str, ...]
    placement: str
    start: datetime
    end: datetime
    rows: tuple[Row, ...]


@dataclass(frozen=True, slots=True)
class Cooling:
    """Pieces off the press whose peel is not over. `opened`: when the press opened, from which the peel window
    counts; `peel`: the planned peel, which may have begun."""

    loading: int
    pieces: tuple[str, ...]
    placement: str
    operation: int
    opened: datetime
    temperature: int
    peel: Row


@dataclass(frozen=True, slots=True)
class Taken:
    """A loading begun by then, as it took place: the pieces that were there, and the rows that stand.

    It was off its press at `off`. `ended`: before its time, so that only the rows over by `off` stand, and the
    peels of what the press had opened on. `lost`: its pieces were all spoiled since.
    """

    loading: Loading
    pieces: tuple[str, ...]
    rows: tuple[Row, ...]
    off: datetime
    ended: bool
    lost: frozenset[str]


@dataclass(frozen=True, slots=True)
class PressState:
    """One press. `setting` None: at no set-point. `change` is the one under way, `out` since when it is down,
    `warmed` the date of its last warm-up, `next` the next change or loading that can take place as planned."""

    press: str
    temperature: float
    setting: Setting | None
    pressure: str | None
    change: Row | None
    warmed: date | None
    out: Out | None
    loadings: tuple[int, ...]
    next: Row | None


@dataclass(frozen=True, slots=True)
class PersonState:
    """One person: away since when, the hand row they are in, and the next one that can take place as planned."""

    person: str
    out: Out | None
    doing: Row | None
    next: Row | None


@dataclass(frozen=True)
class State:
    """Everything at `at`. `due` and `priority` hold what a rush changed, by order and line; `worked` the rows
    begun by then, those of spoiled blanks too; rows cut off by a press that went down are left out. `taken` tells
    the same loading by loading, with what is still to come of those in hand."""

    at: datetime
    pieces: Mapping[str, PieceState]
    presses: Mapping[str, PressState]
    people: Mapping[str, PersonState]
    in_hand: tuple[InHand, ...]
    cooling: tuple[Cooling, ...]
    due: Mapping[Key, datetime]
    priority: Mapping[Key, float]
    cancelled: frozenset[Key]
    worked: tuple[Row, ...]
    taken: tuple[Taken, ...]

    @cached_property
    def by_order(self) -> dict[str, Counter[PieceStatus]]:
        """How many pieces of each order are in which state, orders as the day has them."""
        counts: dict[str, Counter[PieceStatus]] = {}
        for piece in self.pieces.values():
            counts.setdefault(piece.order, Counter())[piece.status] += 1
        return counts


def state_at(
    day: Day,
    rows: Sequence[Row],
    log: Sequence[Entry],
    at: datetime,
    settled: Settled = UNSETTLED,
    left: Mapping[int, datetime] | None = None,
) -> State:
    """Where things stand at `at` (local, naive): the plan's rows before it, unless a line of the log by then
    says otherwise. Lines of the log after `at` do not count. The log is one that `read_log` accepts.

    `settled`: what a plan made again knows of the time before. `left`: when loadings were given up."""
    return _Moment(day, rows, [entry for entry in in_time(log) if entry.at <= at], at, settled, left).state()


class _Moment:
    def __init__(
        self,
        day: Day,
        rows: Sequence[Row],
        entries: list[Entry],
        at: datetime,
        settled: Settled,
        left: Mapping[int, datetime] | None,
    ) -> None:
        self.day, self.rows, self.entries, self.at = day, rows, entries, at
        self.course = Course(rows)
        self.history = History(day, self.course, entries, settled, left)
        self.stories = {piece: self.history.story(piece) for line in day.lines for piece in line.pieces}
        self.off: dict[int, datetime] = {}  # when each loading that takes place leaves its press
        self.cut: set[int] = set()
        for story in self.stories.values():
            for passage in (*story.passages, *story.lost):
                number = passage.loading.number
                self.off[number] = max(passage.off, self.off.get(number, passage.off))
                if passage.cut:
                    self.cut.add(number)
        self.taken = [x for x in self.course.loadings if x.number in self.off]

    def state(self) -> State:
        pieces = {piece: self._piece(line, piece) for line in self.day.lines for piece in line.pieces}
        due, priority = self._rushed()
        return State(
            at=self.at,
            pieces=pieces,
            presses={press: self._press(press) for press in self.day.presses},
            people={person: self._person(person) for person in self.day.people},
            in_hand=tuple(self._in_hand(pieces)),
            cooling=tuple(self._cooling(pieces)),
            due=due,
            priority=priority,
            cancelled=frozenset(self.history.cancelled),
            worked=tuple(row for row in self.rows if row.start < self.at and self._took_place(row)),
            taken=tuple(self._taken(loading) for loading in self.taken if loading.start < self.at),
        )

    def _taken(self, loading: Loading) -> Taken:
        there, lost, off = [], set(), self.off[loading.number]
        finished = False
        for piece in loading.pieces:
            story = self.stories.get(piece)
            if story is None:
                continue
            gone = any(p.loading is loading for p in story.lost)
            mine = [p for p in story.passages if p.loading is loading]
            if gone or mine:
                there.append(piece)
            if gone and not mine:
                lost.add(piece)
            finished = finished or any(not p.cut and p.off < loading.end for p in mine)
        ended = off < loading.end and not finished
        rows = [row for row in loading.rows if not ended or row.end <= off or self._peeled_later(row, loading, off)]
        if len(lost) == len(there):  # nobody goes on with what is spoiled
            gone_at = max((at for piece in lost if (at := self.stories[piece].spoiled)), default=off)
            rows = [row for row in rows if row.start < gone_at]
        down = ended and len(lost) < len(there)
        rows = [replace(row, press=None) if down and row.end > off else row for row in rows]
        return Taken(loading, tuple(there), tuple(rows), off, ended, frozenset(lost))

    def _peeled_later(self, row: Row, loading: Loading, off: datetime) -> bool:
        """A peel of what had opened before the loading was given up: hands do it all the same, off the press."""
        if row.what != "peel":
            return False
        opened = next((c.opens for c in loading.closings if c.step[1] == row.operation), None)
        return opened is not None and opened <= off and self._opened(row)

    def _piece(self, line: OrderLine, piece: str) -> PieceState:
        story = self.stories[piece]
        done = {place.at: 0 for place in self.day.design[line.design].placement}
        for (place, number), over in story.over.items():
            if over <= self.at:
                done[place] = max(number, done.get(place, 0))
        there = next((p for p in story.passages if p.loading.start <= self.at < p.off), None)
        cooling = _cooling_now(story, self.at)
        status = self._status(line, story, there is not None, cooling is not None)
        loading = there.loading if there else cooling[1] if cooling and status == "cooling" else None
        return PieceState(
            piece,
            line.order,
            line.line,
            status,
            done,
            loading=loading.number if loading else None,
            press=loading.press if loading else None,
            begun=story.begun is not None and story.begun <= self.at,
            again=any(under for under in story.missed.values()) and status in ("waiting", "cooling"),
            ready=story.ready,
            spoiled=story.spoiled,
        )

    def _status(self, line: OrderLine, story: Story, in_hand: bool, cooling: bool) -> PieceStatus:
        over = [story.over.get(step) for step in story.wanted]
        if story.done_at or (over and not in_hand and all(at is not None and at <= self.at for at in over)):
            return "finished"
        if in_hand:
            return "in hand"
        if line.key in self.history.cancelled:
            return "cancelled"
        if cooling:
            return "cooling"
        return "spoiled" if story.spoiled and not story.under_way(self.at) else "waiting"

    def _press(self, press: str) -> PressState:
        heat = Heat(
            self.day,
            self.day.presses[press],
            [row for row in self.rows if row.what == "change" and row.press == press],
            [loading for loading in self.taken if loading.press == press],
            self.history.down.get(press, ()),
        )
        now = heat.showing(self.at)
        lying = [x for x in self.taken if x.press == press and x.start <= self.at < self.off[x.number]]
        return PressState(
            press,
            now.temperature,
            now.setting,
            now.pressure,
            now.change,
            now.warmed,
            self._out(self.history.down.get(press, ())),
            tuple(x.number for x in lying),
            self._next([row for row in self.rows if row.press == press and row.what in ("change", "load")]),
        )

    def _person(self, person: str) -> PersonState:
        out = self._out(self.history.absent.get(person, ()))
        mine = [row for row in self.rows if row.person == person]
        doing = next((r for r in mine if r.start <= self.at < r.end and self._took_place(r)), None)
        return PersonState(person, out, None if out else doing, self._next(mine))

    def _out(self, outs: Sequence[Out]) -> Out | None:
        return next((out for out in outs if out.holds(self.at)), None)

    def _next(self, rows: Sequence[Row]) -> Row | None:
        """The first row after now that can take place, with the person it names there."""
        later = (row for row in rows if row.start > self.at and self._took_place(row) and not self._nobody(row))
        return min(later, key=lambda row: row.start, default=None)

    def _nobody(self, row: Row) -> bool:
        return row.person is not None and any(o.holds(row.start) for o in self.history.absent.get(row.person, ()))

    def _took_place(self, row: Row) -> bool:
        """Whether a row took place as planned, or will."""
        if row.what == "change" or row.loading is None:
            return not any(_meet(row, out) for out in self.history.down.get(row.press or "", ()))
        off = self.off.get(row.loading)
        if off is None:
            return False
        if row.press is None:
            return row.loading not in self.cut or self._opened(row)
        return row.end <= off or (row.start < off and row.loading not in self.cut)

    def _opened(self, peel: Row) -> bool:
        """Whether the press had opened on what is peeled here."""
        stories = (self.stories[piece] for piece in peel.pieces if piece in self.stories)
        step = (peel.placement or "", peel.operation or 0)
        return any(step in s.pressed and s.pressed[step][1].number == peel.loading for s in stories)

    def _in_hand(self, pieces: Mapping[str, PieceState]) -> list[InHand]:
        return [
            InHand(x.number, x.press, here, x.placement, x.start, x.end, x.rows)
            for x in self.taken
            if x.start <= self.at < self.off[x.number]
            and (here := tuple(p for p in x.pieces if p in pieces and pieces[p].loading == x.number))
        ]

    def _cooling(self, pieces: Mapping[str, PieceState]) -> list[Cooling]:
        groups: dict[int, list[tuple[str, Closing, Loading]]] = defaultdict(list)
        for piece, state in pieces.items():
            if state.status == "cooling" and (found := _cooling_now(self.stories[piece], self.at)):
                groups[found[1].number].append((piece, *found))
        made = []
        for number, own in groups.items():
            _, closing, loading = own[0]
            assert closing.peel is not None
            place, operation = closing.step
            names = tuple(name for name, _, _ in own)
            degrees = loading.rows[0].temperature or 0
            made.append(Cooling(number, names, place, operation, closing.opens, degrees, closing.peel))
        return made

    def _rushed(self) -> tuple[dict[Key, datetime], dict[Key, float]]:
        due: dict[Key, datetime] = {}
        priority: dict[Key, float] = {}
        for entry in self.entries:
            for line in lines_of(self.day, entry) if entry.what == "rush" else ():
                if entry.due is not None:
                    due[line.key] = entry.due
                if entry.priority is not None:
                    priority[line.key] = entry.priority
        return due, priority


def _cooling_now(story: Story, at: datetime) -> tuple[Closing, Loading] | None:
    """The closing that has opened and whose peel is not over, and its loading."""
    return next((c for step, c in story.pressed.items() if c[0].opens <= at < story.over.get(step, at)), None)


def _meet(row: Row, out: Out) -> bool:
    return row.end > out.start and (out.end is None or row.start < out.end)
