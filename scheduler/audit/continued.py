"""What a plan made again must leave as it is: what was worked, and what nobody can work with.

The rows begun before are held against the plan they were worked by. Where the log touches a loading (its press went
down, somebody left, a piece was spoiled, done or called off) what is left of it has to be rows of that plan; where
nothing touches it, all of it has to be there, to the second.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from models.plan import HAND_ROWS, Row
from scheduler.audit.day_log import DayLog
from scheduler.audit.finding import Finding
from scheduler.audit.pieces import Recipes
from scheduler.audit.table import FILE, Loading, Table

_BEGUN = re.compile(r"L(P|P?A|P?(A?DE?)+A?|)")  # how far a loading can come before it is given up


def given_up(table: Table, loading: Loading, found: str) -> bool:
    """Whether a loading was rightly broken off: its press went down, it was all spoiled, or somebody left it."""
    log = table.log
    if log is None or loading.start >= log.at or not _BEGUN.fullmatch(found):
        return False
    downs = (start for start, _ in log.down.get(loading.press, ()))
    left = (start for spans in log.absent.values() for start, _ in spans)
    spoils = [[m for m in log.spoiled.get(piece, ()) if m >= loading.start] for piece in loading.pieces]
    lost = [max(min(moments) for moments in spoils)] if all(spoils) else []
    return any(loading.start < moment and loading.end <= moment for moment in [*downs, *left, *lost])


def worked_as_planned(table: Table, recipes: Recipes) -> Iterator[Finding]:
    """What was begun before is as it was planned then, and nothing of it is gone."""
    if table.log is not None:
        yield from _Held(table, table.log).findings()


def nothing_on_a_press_that_is_down(table: Table, recipes: Recipes) -> Iterator[Finding]:
    """No row on a press while it is down, unless the log says that its pieces are done."""
    log = table.log
    for entry in table.entries if log else ():
        assert log is not None
        for start, end in log.down.get(entry.row.press or "", ()):
            told = entry.row.pieces and all(log.done.get(piece) for piece in entry.row.pieces)
            if entry.start < end and entry.end > start and not told:
                text = f"{entry.what} while the press is down from {table.clock(start)}{_until(table, end)}"
                yield table.find("press-down", entry, text)


def nothing_by_somebody_absent(table: Table, recipes: Recipes) -> Iterator[Finding]:
    """Nobody begins a row while absent; one that was begun is ended."""
    log = table.log
    for entry in table.entries if log else ():
        assert log is not None
        for start, end in log.absent.get(entry.row.person or "", ()):
            if start <= entry.start < end or (entry.start < start < entry.end and entry.start >= log.at):
                text = f'"{entry.row.person}" is absent from {table.clock(start)}{_until(table, end)}'
                yield table.find("person-absent", entry, text)
            elif entry.start < start < entry.end:
                continue


def nothing_for_a_cancelled_order(table: Table, recipes: Recipes) -> Iterator[Finding]:
    """No loading is dressed for an order line once it is cancelled."""
    for loading in table.loadings.values() if table.log else ():
        assert table.log is not None
        gone = None if loading.line is None else table.log.cancelled.get(loading.line.key)
        if gone is not None and loading.start >= gone:
            text = f"dressed {table.clock(loading.start)}; the order was cancelled {table.clock(gone)}"
            yield table.find("cancelled", loading.first, text)


def blanks_are_there(table: Table, recipes: Recipes) -> Iterator[Finding]:
    """No new blank is begun before the log says that it is there."""
    log = table.log
    if log is None:
        return
    for piece, told in log.waits.items():
        firsts = [c.loading for c in table.closings_of.get(piece, ())[:1]]
        for said, ready in told[-1:]:
            for loading in firsts:
                if log.at <= loading.start < ready and loading.start >= said:
                    text = f'piece "{piece}" is begun {table.clock(loading.start)}; its blank is there'
                    yield table.find("before-ready", loading.first, f"{text} {table.clock(ready)}")


def presses_are_set_again(table: Table, recipes: Recipes) -> Iterator[Finding]:
    """A press that was down is set again before it presses."""
    log = table.log
    for press, spans in log.down.items() if log else ():
        assert log is not None
        for start, _ in spans:
            after = [ld for ld in table.on.get(press, ()) if ld.start >= max(start, log.at)]
            changes = [c for c in table.changes.get(press, ()) if c.start >= start]
            if after and not any(change.end <= after[0].start for change in changes):
                worked = any(start <= ld.start < log.at for ld in table.on.get(press, ()))
                if not worked:
                    text = f"the press was down {table.clock(start)} and has not been set since"
                    yield table.find("not-set-again", after[0].first, text)


def _until(table: Table, end: float) -> str:
    return "" if end == float("inf") else f" to {table.clock(int(end))}"


@dataclass
class _Held:
    """The rows begun before, held against those of the plan before."""

    table: Table
    log: DayLog

    def findings(self) -> Iterator[Finding]:
        day, at = self.table.day, self.log.at
        old = list(self.log.continued.old)
        new = {entry.row: entry for entry in self.table.entries}
        groups = _groups(old)
        touched = self._touched(groups)
        for row in old:
            if row.what == "change" and day.seconds(row.start) < at and row not in new:
                yield from self._change(row)
        for number, rows in groups.items():
            if day.seconds(rows[0].start) < at and number not in touched:
                lost = [row for row in rows if row not in new]
                if lost:
                    text = f"{lost[0].what} at {lost[0].start:%Y-%m-%d %H:%M:%S} was planned and worked or in hand"
                    yield Finding("worked", f"{FILE}, loading {number}", f"{text}, and is not in the plan any more")
        yield from self._nothing_new(old, touched)

    def _change(self, row: Row) -> Iterator[Finding]:
        start, end = self.table.day.seconds(row.start), self.table.day.seconds(row.end)
        spans = self.log.down.get(row.press or "", ())
        if not any(begin <= start < until or start < begin < end for begin, until in spans):
            where = f'{FILE}, press "{row.press}"'
            text = f"the change at {row.start:%Y-%m-%d %H:%M:%S} was begun and is not in the plan any more"
            yield Finding("worked", where, text)

    def _nothing_new(self, old: Sequence[Row], touched: set[int]) -> Iterator[Finding]:
        """Before the moment there is nothing but what was planned then; a touched loading may have lost some of it."""
        known = {_key(row) for row in old}
        pieces = {(row.loading, row.start, row.what): set(row.pieces) for row in old}
        spans = self.log.down
        for entry in self.table.entries:
            row = entry.row
            if entry.start >= self.log.at:
                continue
            if row.what == "change":
                cut = any(entry.end == start for start, _ in spans.get(row.press or "", ()))
                same = [r for r in old if r.what == "change" and (r.press, r.start) == (row.press, row.start)]
                right = any(r == row or (cut and r.end > row.end) for r in same)
            else:
                right = _key(row) in known or row.loading in touched
                named = pieces.get((row.loading, row.start, row.what))
                right = right and (named is None or set(row.pieces) <= named)
            if not right:
                yield self.table.find("worked", entry, "begun before the plan was made again, and not planned then")

    def _touched(self, groups: dict[int, list[Row]]) -> set[int]:
        """The loadings that something in the log bears on, and what comes after for their pieces."""
        found: set[int] = set()
        pieces: set[str] = set()
        told = {*self.log.spoiled, *self.log.done, *self.log.waits}
        for number, rows in sorted(groups.items(), key=lambda item: item[1][0].start):
            mine = set(rows[0].pieces)
            if mine & (pieces | told) or self._hit(rows):
                found.add(number)
                pieces |= mine
        return found

    def _hit(self, rows: list[Row]) -> bool:
        day, log = self.table.day, self.log
        key = (rows[0].order or "", rows[0].line or "")
        if log.cancelled.get(key, 1 << 60) <= day.seconds(rows[0].start):
            return True
        for row in rows:
            start, end = day.seconds(row.start), day.seconds(row.end)
            spans = [*log.down.get(row.press or "", ())]
            spans += log.absent.get(row.person or "", ()) if row.what in HAND_ROWS else []
            if any(begin < max(end, start + 1) and start < until for begin, until in spans):
                return True
        return False


def _key(row: Row) -> tuple[object, ...]:
    """A row that is known again, whoever is left of its pieces."""
    return (row.start, row.end, row.what, row.press, row.person, row.loading, row.placement, row.operation)


def _groups(rows: Sequence[Row]) -> dict[int, list[Row]]:
    groups: dict[int, list[Row]] = {}
    for row in sorted(rows, key=lambda r: (r.start, r.end)):
        if row.loading is not None and row.what != "change":
            groups.setdefault(row.loading, []).append(row)
    return groups
