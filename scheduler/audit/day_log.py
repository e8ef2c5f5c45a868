"""log.csv as the audit reads it, on its own: what was down, who was absent, what was spoiled, done or given up."""

from __future__ import annotations

import csv
import io
import re
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path

from pydantic import ValidationError

from models.day import Day
from models.log import Entry
from models.order import OrderLine
from models.plan import Logged, Row
from models.shop import moment
from scheduler.audit.finding import Finding

_RANGE = re.compile(r"0*(\d+)\s*(?:(?:-|–|\.\.|to)\s*0*(\d+))?", re.ASCII)


@dataclass(frozen=True)
class Continued:
    """A plan made again at `at` (local): the log's entries, the rows of the plan before, and what is done by the log's
    word alone."""

    at: datetime
    entries: tuple[Entry, ...]
    old: tuple[Row, ...]
    logged: tuple[Logged, ...] = ()


class DayLog:
    """What the entries up to `at` come to, in seconds from the day's start."""

    def __init__(self, day: Day, continued: Continued) -> None:
        self.day, self.continued = day, continued
        self.at = day.seconds(continued.at)
        entries = sorted(continued.entries, key=lambda entry: entry.at)
        self.entries = [entry for entry in entries if entry.at <= continued.at]
        self.down = _spans(day, self.entries, "press", "down", "up")
        self.absent = _spans(day, self.entries, "person", "absent", "back")
        self.spoiled: dict[str, list[int]] = defaultdict(list)
        self.done: dict[str, list[tuple[int, str | None]]] = defaultdict(list)
        self.cancelled: dict[tuple[str, str], int] = {}
        self.waits: dict[str, list[tuple[int, int]]] = defaultdict(list)  # told at, blanks not there before
        for entry in self.entries:
            self._take(entry)

    def wanted(self) -> Day:
        """The day with rushed orders' new due times and priorities; cancelled lines have none."""
        return replace(self.day, lines=tuple(self._line(line) for line in self.day.lines))

    def blank(self, piece: str, at: int) -> int:
        """How many blanks of a piece had been spoiled by then."""
        return sum(1 for moment in self.spoiled.get(piece, ()) if moment <= at)

    def finished(self, piece: str) -> bool:
        """Whether the log says that a piece is finished, whatever the rows tell."""
        last = max(self.spoiled.get(piece, ()), default=-1)
        return any(press is None and at > last for at, press in self.done.get(piece, ()))

    def by_word(self, piece: str) -> list[Logged]:
        """What of its present blank is done by the log's word alone, where a line of the log says so."""
        last = max(self.spoiled.get(piece, ()), default=-1)
        told = {at for at, press in self.done.get(piece, ()) if press is not None and at >= last}
        return [x for x in self.continued.logged if x.piece == piece and self.day.seconds(x.at) in told]

    def out(self, kind: str, name: str, at: int) -> bool:
        """Whether a press was down ("press") or a person absent ("person") at that moment."""
        spans = self.down if kind == "press" else self.absent
        return any(start <= at < end for start, end in spans.get(name, ()))

    def _take(self, entry: Entry) -> None:
        at = self.day.seconds(entry.at)
        pieces = entry.pieces or tuple(piece for line in self._lines(entry) for piece in line.pieces)
        if entry.what == "spoiled":
            for piece in entry.pieces:
                self.spoiled[piece].append(at)
                if entry.until is not None:
                    self.waits[piece].append((at, self.day.seconds(entry.until)))
        elif entry.what == "done":
            for piece in pieces if entry.order or entry.pieces else ():
                self.done[piece].append((at, entry.press))
        elif entry.what == "cancel":
            for line in self._lines(entry):
                self.cancelled.setdefault(line.key, at)
        elif entry.what == "ready":
            for piece in pieces:
                self.waits[piece].append((at, at if entry.until is None else self.day.seconds(entry.until)))

    def _lines(self, entry: Entry) -> list[OrderLine]:
        return [ln for ln in self.day.lines if ln.order == entry.order and entry.line in (None, ln.line)]

    def _line(self, line: OrderLine) -> OrderLine:
        if line.key in self.cancelled:
            return line.model_copy(update={"due": None, "priority": 1.0})
        rushes = [e for e in self.entries if e.what == "rush" and line in self._lines(e)]
        due = [e.until for e in rushes if e.until is not None]
        priority = [e.priority for e in rushes if e.priority is not None]
        changed = ({"due": due[-1]} if due else {}) | ({"priority": priority[-1]} if priority else {})
        return line.model_copy(update=changed) if changed else line


def _spans(
    day: Day, entries: Iterable[Entry], field: str, begins: str, ends: str
) -> dict[str, list[tuple[int, float]]]:
    """When each press or person was out, told moment by moment: the last word counts."""
    found: dict[str, list[tuple[int, float]]] = defaultdict(list)
    for entry in entries:
        name, at = getattr(entry, field), day.seconds(entry.at)
        if name is None or entry.what not in (begins, ends):
            continue
        spans = found[name]
        if spans and spans[-1][0] <= at < spans[-1][1]:
            start = spans.pop()[0]
        elif entry.what == ends:
            continue
        else:
            start = at
        until = at if entry.what == ends else float("inf") if entry.until is None else day.seconds(entry.until)
        spans.append((start, until))
    return found


def read_entries(path: Path, day: Day) -> tuple[list[Entry], list[Finding]]:
    """The entries of log.csv, and each line that cannot be read."""
    entries: list[Entry] = []
    damage: list[Finding] = []
    if not path.exists():
        return entries, damage
    try:
        text = path.read_bytes().decode("utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        return entries, [Finding("log-damaged", path.name, f"cannot be read: {error}")]
    sample = text.splitlines()[0] if text.splitlines() else ""
    divider = max(",;\t", key=sample.count)
    reader = csv.DictReader(io.StringIO(text, newline=""), delimiter=divider)
    for cells in reader:
        try:
            if any((value or "").strip() for value in cells.values() if isinstance(value, str)):
                entries.append(_entry(cells, day))
        except (ValueError, ValidationError) as error:
            where = f"{path.name} row {reader.line_num}"
            damage.append(Finding("log-damaged", where, str(error).splitlines()[0]))
    return entries, damage


def _entry(cells: dict[str, str], day: Day) -> Entry:
    known = {(name or "").strip(): (value or "").strip() for name, value in cells.items() if isinstance(value, str)}
    given = {name: value for name, value in known.items() if value and name in Entry.model_fields}
    values: dict[str, object] = dict(given)
    values["what"] = given.get("what", "").casefold()
    for name in ("at", "until"):
        if name in given:
            values[name] = moment(given[name])
    if "pieces" in given:
        values["pieces"] = tuple(_pieces(given["pieces"], day, given.get("order"), given.get("line")))
    return Entry.model_validate(values)


def _pieces(text: str, day: Day, order: str | None, line: str | None) -> Iterator[str]:
    names = {piece for ln in day.lines for piece in ln.pieces}
    lines: Sequence[OrderLine] = [ln for ln in day.lines if order in (None, ln.order) and line in (None, ln.line)]
    for part in filter(None, (part.strip() for part in text.split(";"))):
        match = _RANGE.fullmatch(part)
        if part in names:
            yield part
        elif match and len(lines) == 1:
            yield from (lines[0].piece(n) for n in range(int(match[1]), int(match[2] or match[1]) + 1))
        else:
            raise ValueError(f'"{part}" is no piece of the orders')
