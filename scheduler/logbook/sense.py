"""Whether the lines of a log can have happened one after the other, under the plan."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

from models.day import Day
from models.log import Entry
from models.plan import Row as PlanRow
from scheduler.intake.findings import either
from scheduler.intake.tables import Row
from scheduler.logbook.cells import Reader
from scheduler.logbook.history import UNSETTLED, Course, History, Settled, lines_of
from scheduler.logbook.spans import not_out

Written = tuple[Row, Entry]


def check_sense(
    day: Day, rows: Sequence[PlanRow], written: Sequence[Written], reader: Reader, settled: Settled = UNSETTLED
) -> None:
    """Note every line that the lines before it in time, and the plan, do not allow.

    `settled`: the plan was made again at this moment; lines up to it were held against the one before.
    """
    _Order(day, Course(rows), written, reader, settled).check()


def named(day: Day, rows: Sequence[PlanRow], entries: Sequence[Entry]) -> Entry:
    """The last entry; where it is a press's loading that is done, with the pieces that lie there by those before."""
    last = entries[-1]
    if last.what != "done" or last.press is None or last.pieces:
        return last
    history = History(day, Course(rows), [e for e in entries[:-1] if e.at <= last.at])
    pieces = [piece for loading in history.lies_on(last.press, last.at) for piece in loading.pieces]
    return last.model_copy(update={"pieces": tuple(dict.fromkeys(pieces))})


class _Order:
    def __init__(self, day: Day, course: Course, written: Sequence[Written], reader: Reader, settled: Settled) -> None:
        self.day, self.course, self.reader, self.settled = day, course, reader, settled
        self.written = sorted(written, key=lambda pair: pair[1].at)
        self.before: list[Entry] = []  # the lines so far that are right

    def check(self) -> None:
        """Every line in time order."""
        self._ends()
        for row, entry in self.written:
            found = len(self.reader.found)
            if entry.what in ("spoiled", "done"):
                if self.settled.at is None or entry.at > self.settled.at:
                    self._worked(row, entry)
            elif entry.what in ("cancel", "rush", "ready"):
                self._wanted(row, entry)
            if len(self.reader.found) == found:
                self.before.append(entry)

    def _ends(self) -> None:
        """A press comes up that was down, a person comes back who was absent."""
        entries = [entry for _, entry in self.written]
        for entry, ended in [*not_out(entries, "press"), *not_out(entries, "person")]:
            row = next(row for row, own in self.written if own is entry)
            name, out = (entry.press, "down") if entry.what == "up" else (entry.person, "absent")
            since = f"; that ended {_clock(ended)}" if ended else ""
            right = f'Log "{out}" first, with an earlier time, or take this line out'
            self.reader.add(row, "what", entry.what, f"{name} is not {out} at {_clock(entry.at)}{since}", right)

    def _worked(self, row: Row, entry: Entry) -> None:
        history = History(self.day, self.course, [e for e in self.before if e.at <= entry.at], self.settled)
        if entry.what == "spoiled":
            fresh = [p for p in entry.pieces if not history.story(p).under_way(entry.at)]
            wrong = f"not begun by {_clock(entry.at)}, says the plan with the log"
            right = "Write pieces that have been on a press by then, or log them done first if they were"
        elif entry.press is None:
            return
        elif not entry.pieces:
            if not history.lies_on(entry.press, entry.at):
                wrong = f"nothing lies on it at {_clock(entry.at)}, says the plan with the log"
                self.reader.add(row, "press", entry.press, wrong, "Write the pieces that are done")
            return
        else:
            on = {piece for loading in self.course.on.get(entry.press, ()) for piece in loading.pieces}
            fresh = [p for p in entry.pieces if p not in on]
            wrong = f"the plan never lays it on press {entry.press}"
            right = "Leave press blank where the pieces are finished"
        for piece in fresh:
            self.reader.add(row, "pieces", piece, wrong, right)

    def _wanted(self, row: Row, entry: Entry) -> None:
        """What speaks of an order that is still wanted."""
        gone = [e for e in self.before if e.what == "cancel"]
        left = [
            line
            for line in lines_of(self.day, entry)
            if not any(line.order == e.order and e.line in (None, line.line) for e in gone)
        ]
        if not left:
            when = _clock(max(e.at for e in gone if e.order == entry.order))
            which = f"order {either([entry.order or ''])}"
            self.reader.add(row, "order", entry.order or "", f"{which} was cancelled {when}", "Take this line out")


def _clock(at: datetime) -> str:
    return f"{at:%Y-%m-%d %H:%M:%S}".removesuffix(":00")
