"""The state of every piece against a second reckoning that goes by single rows and single moments."""

from __future__ import annotations

import tempfile
from collections.abc import Sequence
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st

from models.day import Day
from models.log import Entry
from models.plan import Row
from models.problem import BadInput
from scheduler.logbook import append, read_log, state_at
from tests.scheduler.output.planned import NAMES, planned

NEVER = datetime.max


class Reckoning:
    """Pieces by brute force, for a plan that was not made again since: what a piece missed, it never makes good."""

    def __init__(self, day: Day, rows: Sequence[Row], log: Sequence[Entry], at: datetime) -> None:
        self.day, self.rows, self.at = day, rows, at
        self.log = sorted((entry for entry in log if entry.at <= at), key=lambda entry: entry.at)
        self.by_loading: dict[int, list[Row]] = {}
        for row in rows:
            if row.loading is not None:
                self.by_loading.setdefault(row.loading, []).append(row)
        self.loadings: dict[str, list[int]] = {}
        for number, own in sorted(self.by_loading.items(), key=lambda item: min(r.start for r in item[1])):
            for piece in own[0].pieces:
                self.loadings.setdefault(piece, []).append(number)

    def out(self, words: tuple[str, str], name: str, moment: datetime) -> bool:
        """Whether the last line about a press or person by that moment says it is out of work."""
        last = [e for e in self.log if e.what in words and name in (e.press, e.person) and e.at <= moment]
        return bool(last) and last[-1].what == words[0] and (last[-1].until or NEVER) > moment

    def misses(self, number: int) -> bool:
        """Whether press or people are lacking when a loading should be dressed."""
        own = self.by_loading[number]
        first = min(own, key=lambda row: row.start)
        if self.out(("down", "up"), first.press or "", first.start):
            return True
        for who in {row.person for row in own if row.person}:
            if not self.out(("absent", "back"), who, first.start):
                continue
            came = [e for e in self.log if e.what == "back" and e.person == who and e.at > first.start]
            last = [e for e in self.log if e.what == "absent" and e.person == who and e.at <= first.start][-1]
            later = [e for e in self.log if e.what == "absent" and e.person == who and e.at > first.start]
            end = min(came[0].at if came else NEVER, last.until or NEVER)
            for entry in later:  # one that comes while they are away corrects the end
                if entry.at < end:
                    end = min((e.at for e in came if e.at > entry.at), default=NEVER)
                    end = min(end, entry.until or NEVER)
            if any(row.person == who and row.start < end for row in own):
                return True
        return False

    def piece(self, name: str, key: tuple[str, str]) -> tuple[str, int]:
        """Status, and how many of its operations are over."""
        mine = [e for e in self.log if name in e.pieces]
        spoils = [e for e in mine if e.what == "spoiled"]
        since = spoils[-1].at if spoils else datetime.min
        wanted = sum(r.what == "dwell" for n in self.loadings.get(name, ()) for r in self.by_loading[n])
        if any(e.what == "done" and e.at >= since for e in mine):
            return "finished", wanted
        cancels = [e.at for e in self.log if e.what == "cancel" and (e.order, e.line or key[1]) == key]
        over, cooling, in_hand, begun = 0, False, False, datetime.max
        stuck = False
        for number in self.loadings.get(name, ()):
            own = self.by_loading[number]
            on = [row for row in own if row.press]
            start, end = min(row.start for row in on), max(row.end for row in on)
            late = [
                e
                for e in self.log
                if e.what == "ready" and (e.order, e.line or key[1]) == key and e.at <= start and begun >= e.at
            ]
            if start < since or stuck or self.misses(number) or (cancels and start >= cancels[0]):
                stuck = True
                continue
            if late and (late[-1].until or late[-1].at) > start:
                stuck = True
                continue
            begun = min(begun, start)
            press = on[0].press
            cuts = [e.at for e in self.log if e.what == "down" and e.press == press and start < e.at < end]
            cut = cuts[0] if cuts else NEVER
            in_hand |= start <= self.at < min(end, cut)
            for dwell in on:
                if dwell.what != "dwell":
                    continue
                if dwell.end > cut:
                    stuck = True
                    continue
                peels = [r.end for r in own if r.what == "peel" and r.operation == dwell.operation]
                over += max([dwell.end, *peels]) <= self.at
                cooling |= dwell.end <= self.at < max([dwell.end, *peels])
        if over == wanted and not in_hand:
            return "finished", over
        if in_hand:
            return "in hand", over
        if cancels:
            return "cancelled", over
        if cooling:
            return "cooling", over
        return ("spoiled" if spoils and begun > self.at else "waiting"), over


def check(day: Day, rows: Sequence[Row], log: Sequence[Entry], at: datetime) -> None:
    """Both reckonings agree on every piece, and the counts and lists on both."""
    state, second = state_at(day, rows, log, at), Reckoning(day, rows, log, at)
    for ln in day.lines:
        for name in ln.pieces:
            piece = state.pieces[name]
            assert (piece.status, sum(piece.done.values())) == second.piece(name, ln.key), (name, at, log)
    assert sum(counts.total() for counts in state.by_order.values()) == sum(ln.quantity for ln in day.lines)
    held = [name for hand in state.in_hand for name in hand.pieces]
    assert sorted(held) == sorted(p.piece for p in state.pieces.values() if p.status == "in hand")
    cools = [name for group in state.cooling for name in group.pieces]
    assert sorted(cools) == sorted(p.piece for p in state.pieces.values() if p.status == "cooling")


@pytest.mark.parametrize("name", NAMES)
def test_without_a_log(name: str) -> None:
    """At a table of moments over the whole plan of each example day both reckonings agree; at the end all is done."""
    made = planned(name)
    first, last = made.rows[0].start, max(row.end for row in made.rows)
    for part in range(13):
        check(made.day, made.rows, [], first + timedelta(seconds=round((last - first).total_seconds() * part / 12)))
    state = state_at(made.day, made.rows, [], last)
    assert {piece.status for piece in state.pieces.values()} == {"finished"}
    assert state.worked == tuple(made.rows) and not state.in_hand and not state.cooling


@st.composite
def events(draw: st.DrawFn, day: Day, rows: Sequence[Row]) -> Entry:
    """An event at about the time of some row, about what that row is about."""
    row = draw(st.sampled_from([r for r in rows if r.loading is not None and r.press and r.person]))
    at = row.start + timedelta(seconds=draw(st.integers(-1, 12)))
    until = draw(st.sampled_from([None, at + timedelta(minutes=1), at + timedelta(minutes=45)]))
    what = draw(st.sampled_from(["down", "up", "absent", "back", "spoiled", "done", "cancel", "ready", "rush"]))
    cells: dict[str, object] = {"at": at, "what": what}
    if what in ("down", "up"):
        cells["press"] = row.press
    elif what in ("absent", "back"):
        cells["person"] = row.person
    elif what in ("spoiled", "done"):
        cells["pieces"] = row.pieces
    else:
        cells |= {"order": row.order, "line": draw(st.sampled_from([None, row.line]))}
    if what == "rush":
        cells["note"] = "priority 2"
    if what in ("down", "absent", "ready"):
        cells["until"] = until
    return Entry.model_validate(cells)


@pytest.mark.parametrize("name", NAMES)
@settings(max_examples=25, phases=[Phase.explicit, Phase.generate])  # making a failure smaller takes minutes
@given(data=st.data())
def test_with_any_log(name: str, data: st.DataObject) -> None:
    """Whatever lines the log takes, both reckonings agree on every piece at any moment."""
    made = planned(name)
    with tempfile.TemporaryDirectory() as folder:
        for _ in range(data.draw(st.integers(1, 4))):
            entry = data.draw(events(made.day, made.rows))
            try:
                append(Path(folder), made.day, made.rows, entry)
            except BadInput as refused:
                assert all(problem.wrong and problem.right for problem in refused.problems)
        log = read_log(Path(folder), made.day, made.rows)
    moments = [entry.at for entry in log] + [row.start for row in made.rows[:: len(made.rows) // 40 + 1]]
    at = data.draw(st.sampled_from(moments)) + timedelta(seconds=data.draw(st.integers(-5, 900)))
    check(made.day, made.rows, log, at)
