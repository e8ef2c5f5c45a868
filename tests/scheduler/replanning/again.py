"""Days planned again after a breakdown, checked two ways: by the audit as a continuation, and by a reckoning of the
pieces' states that goes by single rows and shares nothing with the program's own."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from models.day import Day
from models.log import Entry
from models.plan import Row
from scheduler.audit import Continued, audit_rows
from scheduler.audit.figures import figures
from scheduler.audit.pieces import Recipes
from scheduler.audit.table import Table
from scheduler.likely import STILL, Played, network_of, play
from scheduler.planning import Planned
from scheduler.replanning.commands import known_of
from scheduler.replanning.replan import Old, replan_day
from tests.scheduler.likely.still import off_plan
from tests.scheduler.output.planned import planned

Step = tuple[str, int]


def old_of(made: Planned) -> Old:
    """A plan as something to plan again from."""
    return Old(made.plan, made.rows, "")


def moments(name: str, count: int = 10) -> list[datetime]:
    """So many moments spread over a scenario's day, off the minute."""
    plan = planned(name).plan
    span = (plan.finish - plan.start).total_seconds()
    return [plan.start + timedelta(seconds=int(span * (n + 0.37) / count)) for n in range(count)]


def again(day: Day, old: Old, log: Sequence[Entry], at: datetime) -> Planned:
    """Plan again and check all that can be checked of any plan made again."""
    made = replan_day(day, old, log, at, "quick")
    assert made.plan.changes is not None
    continued = Continued(at, tuple(log), tuple(old.rows), made.plan.changes.logged)
    assert not [str(finding) for finding in audit_rows(day, made.rows, continued)]
    table = Table(day, made.rows, continued=continued)
    right, goals = figures(table, Recipes(table)), made.plan.goals
    for name in ("late_min", "work_min", "changes", "change_min", "peel_wait_min"):
        assert abs(getattr(goals, name) - getattr(right, name)) < 0.02, name
    assert goals.late_bound <= goals.late_min + 0.01 and goals.work_bound <= goals.work_min + 0.01
    assert off_plan(made.day, made.rows, played_still(made, log, at)) == []
    return made


def played_still(made: Planned, log: Sequence[Entry], at: datetime) -> Played:
    """The plan made again on a day on which nothing strays any more."""
    return play(made.day, network_of(made.day, made.rows), STILL, 1, 0, known_of(made.day, log, at))


class Reckoned:
    """What each piece must still be pressed with, from the old rows and the log's lines of one moment."""

    def __init__(self, day: Day, rows: Sequence[Row], log: Sequence[Entry], at: datetime) -> None:
        self.day, self.rows, self.at = day, rows, at
        self.down = {e.press for e in log if e.what == "down"}
        self.gone = {e.person for e in log if e.what == "absent"}
        self.spoiled = {piece for e in log if e.what == "spoiled" for piece in e.pieces}
        self.finished = {piece for e in log if e.what == "done" for piece in e.pieces}
        self.since = dict.fromkeys(self.spoiled, at)
        self.cancelled = {e.order for e in log if e.what == "cancel"}
        self.by_loading: dict[int, list[Row]] = {}
        for row in rows:
            if row.loading is not None:
                self.by_loading.setdefault(row.loading, []).append(row)

    def steps(self, piece: str, rows: Sequence[Row]) -> Counter[Step]:
        """The operations a piece is pressed with in these rows."""
        return Counter((r.placement or "", r.operation or 0) for r in rows if r.what == "dwell" and piece in r.pieces)

    def check(self, new: Sequence[Row]) -> None:
        """What was begun is there to the second; every piece gets what it lacks, once, and nothing else."""
        self._worked_rows(new)
        fresh = {r.loading for r in new if r.what == "load" and r.start >= self.at}
        begun = {r.loading for r in new if r.loading is not None} - fresh
        after = [r for r in new if r.loading in fresh]
        before = [r for r in new if r.loading in begun]
        for line in self.day.lines:
            for piece in line.pieces:
                lacking = self.steps(piece, after)
                if line.order in self.cancelled or piece in self.finished:
                    assert not lacking, piece
                    continue
                done = self.steps(piece, self._on_its_blank(piece, before))
                wanted = self.steps(piece, self.rows)
                assert set(done + lacking) == set(wanted), piece
                assert all(count == 1 for count in (done + lacking).values()), piece

    def _on_its_blank(self, piece: str, rows: Sequence[Row]) -> list[Row]:
        """The rows of loadings dressed after the piece was last spoiled."""
        since = self.since.get(piece, datetime.min)
        good = {r.loading for r in rows if r.what == "load" and r.start >= since}
        return [r for r in rows if r.loading in good]

    def _worked_rows(self, new: Sequence[Row]) -> None:
        known = set(new)
        for rows in self.by_loading.values():
            first = min(row.start for row in rows)
            if first >= self.at:
                continue
            for row in rows:
                over = row.end <= self.at
                press = next(r.press for r in rows if r.press)
                off = max(r.end for r in rows if r.press) <= self.at
                pulled = press in self.down and not off
                left = any(r.person in self.gone and r.start >= self.at for r in rows)
                lost = set(row.pieces) <= self.spoiled
                unpeeled = left and any(r.what == "peel" and not r.press and r.person in self.gone for r in rows)
                if (over and not unpeeled) or not (pulled or left or lost):
                    assert row in known or replace(row, press=None) in known, row
        for row in new:
            if row.start < self.at and row.what != "change":
                same = [r for r in self.rows if (r.start, r.loading, r.what) == (row.start, row.loading, row.what)]
                off = row.what == "peel" and any(replace(r, press=None) == row for r in same)
                assert row in same or off, row
