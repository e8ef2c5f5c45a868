"""One row of log.csv as an entry: known names, times in order, the columns that the event takes."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime, timedelta
from typing import Any

from pydantic import ValidationError

from models.day import Day
from models.log import LOG_WORDS, MAX_PRIORITY, USES, Entry, LogWhat
from models.order import OrderLine
from models.shop import moment
from scheduler.calendar import HORIZON_DAYS
from scheduler.intake.findings import Findings, show, suggest
from scheduler.intake.tables import Columns, Row
from scheduler.logbook.pieces import read_pieces
from scheduler.output.cells import as_written

FILE = "log.csv"
COLUMNS = Columns(tuple(Entry.model_fields), ("at", "what"))

_TIME = 'Write a local date and time, as "2026-12-01T10:15"'
_WHY = {
    "press": "Write which press",
    "person": "Write who",
    "order": "Write which order",
    "pieces": "Write which pieces, as 1042-1-003;1042-1-004",
}


class Reader:
    """Reads rows against a day; what is wrong goes to `found`."""

    def __init__(self, day: Day, found: Findings) -> None:
        self.day, self.found = day, found
        self.names = {piece: line for line in day.lines for piece in line.pieces}

    def entry(self, row: Row) -> Entry | None:
        """The row's entry, or None with every problem of it noted."""
        before = len(self.found)
        cells = {key: as_written(cell) for key, cell in row.cells.items() if key in COLUMNS.known and cell}
        values: dict[str, Any] = {"note": cells.get("note", "")}
        what = self._what(row, cells)
        values |= {"what": what, "at": self._at(row, cells)}
        values |= {"press": self._known(row, cells, "press", self.day.presses)}
        values |= {"person": self._known(row, cells, "person", self.day.people)}
        lines = self._lines(row, cells)
        values |= {"order": cells.get("order"), "line": cells.get("line"), "until": self._until(row, cells)}
        values["pieces"] = self._pieces(row, cells, lines)
        if what is not None:
            self._columns(row, cells, what)
        entry = None if len(self.found) > before else self._entry(row, values)
        if entry is not None:
            self._together(row, entry)
        return entry if len(self.found) == before else None

    def add(self, row: Row, field: str, value: str, wrong: str, right: str) -> None:
        """Note a problem of the row."""
        self.found.add(FILE, row.where, field, show(value) if value else "", wrong, right)

    def _what(self, row: Row, cells: Mapping[str, str]) -> LogWhat | None:
        word = cells.get("what", "").casefold()
        for known in LOG_WORDS:
            if word == known:
                return known
        wrong = "there is no such event" if word else "the cell is blank"
        self.add(row, "what", cells.get("what", ""), wrong, suggest(word, LOG_WORDS, "event"))
        return None

    def _at(self, row: Row, cells: Mapping[str, str]) -> datetime | None:
        at = self._time(row, cells, "at")
        start, end = self.day.start, self.day.start + timedelta(days=HORIZON_DAYS)
        if at is not None and not start <= at <= end:
            wrong = f"the day begins {start:%Y-%m-%dT%H:%M}" if at < start else "that is two weeks past the day's start"
            self.add(row, "at", cells["at"], wrong, f"Write a time from {start:%Y-%m-%dT%H:%M} on")
        elif at is None and "at" not in cells:
            self.add(row, "at", "", "the cell is blank", _TIME)
        return at

    def _until(self, row: Row, cells: Mapping[str, str]) -> datetime | None:
        return self._time(row, cells, "until")

    def _time(self, row: Row, cells: Mapping[str, str], field: str) -> datetime | None:
        if field not in cells:
            return None
        try:
            return moment(cells[field])
        except ValueError:
            self.add(row, field, cells[field], "this is no local date and time", _TIME)
            return None

    def _known(self, row: Row, cells: Mapping[str, str], field: str, known: Iterable[str]) -> str | None:
        name = cells.get(field)
        if name is not None and name not in known:
            self.add(row, field, name, f"there is no such {field}", suggest(name, known, field))
        return name

    def _lines(self, row: Row, cells: Mapping[str, str]) -> Sequence[OrderLine]:
        """The order lines that order and line leave; all where both are blank, none where they are wrong."""
        order, line = cells.get("order"), cells.get("line")
        if order is None:
            if line is not None:
                self.add(row, "order", "", "a line is given without its order", _WHY["order"])
            return self.day.lines
        if order not in self.day.orders:
            self.add(row, "order", order, "there is no such order", suggest(order, self.day.orders, "order"))
            return ()
        lines = [ln for ln in self.day.orders[order].lines if line in (None, ln.line)]
        if not lines:
            known = [ln.line for ln in self.day.orders[order].lines]
            self.add(row, "line", line or "", f"order {order} has no such line", suggest(line or "", known, "line"))
        return lines

    def _pieces(self, row: Row, cells: Mapping[str, str], lines: Sequence[OrderLine]) -> tuple[str, ...]:
        if "pieces" not in cells or not lines:
            return ()
        pieces, faults = read_pieces(cells["pieces"], lines, self.names)
        for value, wrong, right in faults:
            self.add(row, "pieces", value, wrong, right)
        if not pieces and not faults:
            self.add(row, "pieces", cells["pieces"], "there is no piece in it", _WHY["pieces"])
        return pieces

    def _columns(self, row: Row, cells: Mapping[str, str], what: LogWhat) -> None:
        use = USES[what]
        for field in use.needs:
            if field not in cells:
                self.add(row, field, "", f'"{what}" needs it', _WHY[field])
        for field in cells.keys() - {"at", "what", "note", *use.needs, *use.may}:
            self.add(row, field, cells[field], f'"{what}" takes no {field}', "Leave it blank")
        if what == "done" and not cells.keys() & {"press", "order", "pieces"}:
            right = "Write the pieces, their order, or the press whose loading is done"
            self.add(row, "pieces", "", '"done" does not say what', right)

    def _entry(self, row: Row, values: Mapping[str, Any]) -> Entry | None:
        try:
            return Entry.model_validate(values, strict=True)
        except ValidationError as error:
            for item in error.errors(include_url=False):
                field = str(item["loc"][0]) if item["loc"] else ""
                long = item["type"] == "string_too_long"
                wrong = "this is longer than 200 characters" if long else str(item["msg"]).removeprefix("Value error, ")
                self.add(row, field, str(values.get(field, "")), wrong, "Write it shorter" if long else "")
        return None

    def _together(self, row: Row, entry: Entry) -> None:
        if entry.until is not None and entry.until <= entry.at:
            wrong = f"it is not after at ({entry.at:%Y-%m-%dT%H:%M:%S})"
            self.add(row, "until", row.cells["until"], wrong, "Write a later time, or leave it blank")
        if entry.what == "rush" and entry.until is None and entry.priority is None:
            right = 'Write the new due time in until, or "priority 3" in the note, or both'
            self.add(row, "until", "", "the rush names neither a new due time nor a priority", right)
        if entry.priority is not None and not 0 < entry.priority <= MAX_PRIORITY:
            wrong = f"a priority lies above 0 and at most at {MAX_PRIORITY:g}"
            self.add(row, "note", entry.note, wrong, "Write such a number after the word priority")
