"""What became of each piece: the plan's loadings in time order, and what the log says otherwise.

What the plan says is taken as done. A loading does not take place where its press is down when it should be
dressed, where somebody it needs is absent, where its blanks are not there, or where its order was cancelled;
what others had begun when somebody left is finished by those who stay. When a press goes down, what it has not
yet opened for must be pressed again. A piece goes through its operations in the plan's order: what it missed
holds up all that comes after, until it is made good.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime

from models.day import Day
from models.log import Entry
from models.order import OrderLine
from models.plan import Logged, Plan, Row
from scheduler.logbook.loadings import Closing, Loading, Step, loadings_of
from scheduler.logbook.spans import in_time, outs

Key = tuple[str, str]  # order, line
Mark = tuple[Entry, "Loading | None"]  # a line of the log about a piece, and the loading it tells of


@dataclass(frozen=True, slots=True)
class Passage:
    """A piece's time on a press in one loading, [loading.start, off); `cut`: the press went down at `off`."""

    loading: Loading
    off: datetime
    cut: bool = False

    @property
    def pressed(self) -> tuple[Closing, ...]:
        """The closings for which the press opened in time."""
        return tuple(c for c in self.loading.closings if not self.cut or c.opens <= self.off)


@dataclass(slots=True)
class Story:
    """One piece since its blank was last taken up. `over`: when each operation is over, its peel included."""

    wanted: frozenset[Step]
    over: dict[Step, datetime] = field(default_factory=dict)
    pressed: dict[Step, tuple[Closing, Loading]] = field(default_factory=dict)
    passages: list[Passage] = field(default_factory=list)
    lost: list[Passage] = field(default_factory=list)  # with a blank that was spoiled since
    missed: dict[Step, bool] = field(default_factory=dict)  # whether it lay under a press that went down
    done_at: datetime | None = None  # finished, says the log
    spoiled: datetime | None = None
    ready: datetime | None = None  # its blank is not there before, says the log

    @property
    def begun(self) -> datetime | None:
        """When its present blank was first dressed."""
        return self.passages[0].loading.start if self.passages else None

    def under_way(self, at: datetime) -> bool:
        """Whether work on its present blank had begun by then."""
        begun = self.begun is not None and self.begun <= at
        return begun or self.done_at is not None or any(over <= at for over in self.over.values())


class Course:
    """The plan's loadings, by piece and by press."""

    def __init__(self, rows: Iterable[Row]) -> None:
        self.loadings = loadings_of(rows)
        self.of_piece: dict[str, list[Loading]] = defaultdict(list)
        self.on: dict[str, list[Loading]] = defaultdict(list)
        for loading in self.loadings:
            self.on[loading.press].append(loading)
            for piece in dict.fromkeys(loading.pieces):
                self.of_piece[piece].append(loading)


@dataclass(frozen=True)
class Settled:
    """What a plan made again at `at` knows of the time before: `logged` is done by the log's word alone."""

    at: datetime | None = None
    logged: Sequence[Logged] = ()


UNSETTLED = Settled()  # a plan from the day's start


def settled_by(plan: Plan) -> Settled:
    """What a plan knows of the time before it was made: something only where it was made again."""
    changes = plan.changes
    return Settled(changes.at, changes.logged) if changes else UNSETTLED


class History:
    """The plan's course under the log's entries; every entry given counts.

    `left`: when loadings were given up because nobody took them over, by number.
    """

    def __init__(
        self,
        day: Day,
        course: Course,
        entries: Sequence[Entry],
        settled: Settled = UNSETTLED,
        left: Mapping[int, datetime] | None = None,
    ) -> None:
        self.course, self.settled, self.left = course, settled, left or {}
        self.entries = in_time(entries)
        self.down = outs(self.entries, "press")
        self.absent = outs(self.entries, "person")
        self.cancelled = _cancelled(day, self.entries)
        self._fit = {x.number: self._can_begin(x) for x in course.loadings}
        self._marks: dict[str, list[Mark]] = defaultdict(list)
        self.logged: dict[str, list[Logged]] = defaultdict(list)
        for item in settled.logged:
            self.logged[item.piece].append(item)
        for entry in self.entries:
            self._mark(day, entry)

    def story(self, piece: str) -> Story:
        """What became of a piece, the plan's future included."""
        loadings = self.course.of_piece.get(piece, [])
        return _Walk(self, loadings, self._marks.get(piece, ()), self.logged.get(piece, ())).story

    def lies_on(self, press: str, at: datetime) -> list[Loading]:
        """What lies on a press, or was left on it when it last went down."""
        begun = [x for x in self.course.on.get(press, ()) if x.start <= at and self._fit[x.number]]
        downs = [out for out in self.down.get(press, ()) if out.start <= at]
        left = [x for x in begun if downs and x.start < downs[-1].start < x.end]
        return [x for x in begun if at < x.end] or left

    def cut(self, loading: Loading) -> datetime | None:
        """When its press went down with it, or it was given up."""
        if loading.number in self.left:
            return self.left[loading.number]
        return next((o.start for o in self.down.get(loading.press, ()) if loading.start < o.start < loading.end), None)

    def fit(self, loading: Loading) -> bool:
        """Whether press and people are there to begin it, and its order still wanted."""
        return self._fit[loading.number]

    def _can_begin(self, loading: Loading) -> bool:
        cancelled = self.cancelled.get((loading.order, loading.line))
        if cancelled is not None and loading.start >= cancelled:
            return False
        if any(out.holds(loading.start) for out in self.down.get(loading.press, ())):
            return False
        return not any(
            loading.start >= out.start and row.end > out.start and (out.end is None or row.start < out.end)
            for row in loading.rows
            if row.person is not None
            for out in self.absent.get(row.person, ())
        )

    def _mark(self, day: Day, entry: Entry) -> None:
        """Put an entry about pieces down at each of them."""
        if entry.what == "done" and entry.press is not None:
            for piece, loading in self._done_on(entry, entry.press):
                self._marks[piece].append((entry, loading))
        elif entry.what in ("done", "spoiled", "ready"):
            for piece in entry.pieces or pieces_of(day, entry):
                self._marks[piece].append((entry, None))

    def _done_on(self, entry: Entry, press: str) -> list[tuple[str, Loading | None]]:
        """The loadings a line about a press tells of: those lying there, or each piece's last, else its next there."""
        if not entry.pieces:
            return [(piece, x) for x in self.lies_on(press, entry.at) for piece in x.pieces]
        found: list[tuple[str, Loading | None]] = []
        known = self.settled.at is not None and entry.at <= self.settled.at
        for piece in entry.pieces:
            there = [x for x in self.course.of_piece.get(piece, ()) if x.press == press]
            if known:  # what lay ahead then has been planned anew since
                there = [x for x in there if x.start <= entry.at]
            begun = [x for x in there if x.start <= entry.at]
            named: list[Loading | None] = [*(begun[-1:] or there[:1])]
            found += [(piece, x) for x in named or ([None] if known else [])]
        return found


def pieces_of(day: Day, entry: Entry) -> list[str]:
    """The pieces of the entry's order, or of its line where it names one."""
    return [piece for line in lines_of(day, entry) for piece in line.pieces]


def lines_of(day: Day, entry: Entry) -> list[OrderLine]:
    """The order lines an entry speaks of."""
    return [ln for ln in day.lines if ln.order == entry.order and entry.line in (None, ln.line)]


def _cancelled(day: Day, entries: Iterable[Entry]) -> dict[Key, datetime]:
    found: dict[Key, datetime] = {}
    for entry in entries:
        if entry.what == "cancel":
            for line in lines_of(day, entry):
                found.setdefault(line.key, entry.at)
    return found


class _Walk:
    """One piece through its loadings and the log's lines about it, in time order."""

    def __init__(
        self, history: History, loadings: Sequence[Loading], marks: Sequence[Mark], logged: Sequence[Logged]
    ) -> None:
        self.history, self.logged = history, logged
        self.last = {step: loading.start for loading in loadings for step in loading.steps}
        self.story = Story(frozenset(self.last) | {(item.placement, item.operation) for item in logged})
        waiting = list(marks)
        for loading in loadings:
            while waiting and waiting[0][0].at <= loading.start:
                self._take(*waiting.pop(0))
            self._load(loading)
        for entry, named in waiting:
            self._take(entry, named)

    def _take(self, entry: Entry, loading: Loading | None) -> None:
        story = self.story
        if entry.what == "spoiled":
            self._spoil(entry)
        elif entry.what == "ready":
            if entry.pieces and story.under_way(entry.at):  # named, they are not there, whatever the plan says
                self._begin_again()
            if not self.story.under_way(entry.at):
                self.story.ready = entry.until or entry.at
        elif loading is None and entry.press is not None:
            self._over(((x.placement, x.operation) for x in self.logged if x.at == entry.at), entry.at)
        elif loading is None:
            story.done_at = min(entry.at, story.done_at or entry.at)
            self._leave(entry.at, None)
            self._over(story.wanted, entry.at)
        else:
            self._leave(entry.at, loading)
            self._over(((x.placement, x.operation) for x in self.logged if x.at == entry.at), entry.at)
            known = [s for place, n in loading.steps for s in story.wanted if s[0] == place and s[1] <= n]
            self._over(known, entry.at)

    def _spoil(self, entry: Entry) -> None:
        lost = [Passage(p.loading, min(p.off, entry.at), p.cut) for p in self.story.passages]
        self._begin_again()
        self.story.lost += lost
        self.story.spoiled, self.story.ready = entry.at, entry.until

    def _begin_again(self) -> None:
        """A new blank: nothing is done on it yet."""
        old = self.story
        missed = dict.fromkeys((*old.over, *old.missed), False)
        self.story = Story(old.wanted, lost=old.lost, missed=missed, spoiled=old.spoiled)

    def _over(self, steps: Iterable[Step], at: datetime) -> None:
        for step in steps:
            self.story.over[step] = min(at, self.story.over.get(step, at))
            self.story.missed.pop(step, None)

    def _leave(self, at: datetime, loading: Loading | None) -> None:
        """Off the press by then, done: the loading, or whichever it is in."""
        self.story.passages = [
            Passage(p.loading, min(p.off, at)) if loading is None or p.loading is loading else p
            for p in self.story.passages
        ]

    def _load(self, loading: Loading) -> None:
        story = self.story
        if loading.steps and all(step in story.over for step in loading.steps):
            return
        if not self._takes_place(loading):
            story.missed.update({s: story.missed.get(s, False) for s in loading.steps if s not in story.over})
            return
        cut = self.history.cut(loading)
        passage = Passage(loading, cut or loading.end, cut is not None)
        story.passages.append(passage)
        for closing in loading.closings:
            if closing in passage.pressed:
                story.over[closing.step] = closing.over
                story.pressed[closing.step] = (closing, loading)
                story.missed.pop(closing.step, None)
            else:
                story.missed[closing.step] = True

    def _takes_place(self, loading: Loading) -> bool:
        story = self.story
        if not self.history.fit(loading) or (story.ready is not None and loading.start < story.ready):
            return False
        if any(self.last.get(step, loading.start) < loading.start for step in story.missed):
            return False
        place, first = loading.steps[0] if loading.steps else (loading.placement, 1)
        return first == 1 or (place, first - 1) in story.over
