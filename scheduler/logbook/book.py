"""log.csv read whole, and one line added to it whole or not at all."""

from __future__ import annotations

import codecs
import errno
import os
import secrets
import time
from collections.abc import Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager, suppress
from datetime import datetime
from pathlib import Path

from models.day import Day
from models.log import Entry
from models.plan import Row as PlanRow
from models.problem import BadInput, Problem
from models.shop import moment
from scheduler.intake.files import read_bytes, there
from scheduler.intake.findings import Findings
from scheduler.intake.tables import Row, read_csv
from scheduler.logbook.cells import COLUMNS, FILE, Reader
from scheduler.logbook.history import Settled
from scheduler.logbook.sense import check_sense, named
from scheduler.output.cells import as_written, cell, csv_text
from scheduler.output.lock import Busy, locked
from scheduler.output.swap import sync_folder, tidy

Moment = Settled | datetime | None
PATIENCE_S = 10.0  # how long one line waits for another writer
_NEW = ".log-new-"


def read_log(folder: Path, day: Day, rows: Sequence[PlanRow], settled: Moment = None) -> tuple[Entry, ...]:
    """The entries of log.csv in file order, none where there is no such file.

    `settled`: the moment from which `rows` were planned again; pieces in lines up to it are not held against them,
    as what was worked and lost before may no longer stand there. Raises BadInput with every line that does not fit
    the day, the plan's `rows` or the lines before it in time.
    """
    found = Findings()
    written = _read(folder, found)
    entries = _judge(written, day, rows, found, settled)
    found.raise_any()
    return entries


def told_since(folder: Path, since: datetime) -> int:
    """How many lines of log.csv tell of that moment or a later one; lines that cannot be read count for nothing."""
    count = 0
    for row in _read(folder, Findings()):
        with suppress(ValueError):
            count += moment(as_written(row.cells.get("at", ""))) >= since
    return count


def append(folder: Path, day: Day, rows: Sequence[PlanRow], entry: Entry, settled: Moment = None) -> Path:
    """Add one entry to log.csv, whole or not at all, and return its path. Raises as `append_cells`."""
    return append_cells(folder, day, rows, cells_of(entry), settled)


def append_cells(
    folder: Path, day: Day, rows: Sequence[PlanRow], cells: Mapping[str, str], settled: Moment = None
) -> Path:
    """Add one line, given as a person would write its cells, to log.csv; what stands there is not changed.

    A press's loading that is done is written with its pieces. `settled` as for `read_log`.
    Raises BadInput where the line, or the log with it, is wrong or cannot be written, and Busy where another
    run holds the folder for longer than PATIENCE_S; then log.csv is as it was.
    """
    with _waiting(folder), _said(folder):
        tidy(folder)
        for half in folder.glob(f"{_NEW}*"):
            half.unlink(missing_ok=True)
        _, data = with_lines(folder, day, rows, [cells], settled)
        _replace(folder / FILE, data)
    return folder / FILE


def with_lines(
    folder: Path, day: Day, rows: Sequence[PlanRow], lines: Sequence[Mapping[str, str]], settled: Moment = None
) -> tuple[tuple[Entry, ...], bytes]:
    """The log's entries and its bytes with lines added, each given as a person would write its cells; nothing is
    written. Raises BadInput where a line, or the log with it, is wrong."""
    found = Findings()
    written = old = _read(folder, found)
    found.raise_any()
    data = (folder / FILE).read_bytes() if (folder / FILE).exists() else None
    entries = _judge(written, day, rows, found, settled)
    found.raise_any()
    for cells in lines:
        number = max((row.number for row in written), default=1) + 1
        new = _New(number, {key: " ".join(value.split()) for key, value in cells.items() if value})
        written = [*written, new]
        entries = _judge(written, day, rows, found, settled)
        found.raise_any()
        data = _with(data, old, named(day, rows, entries))
    return entries, data or b""


def cells_of(entry: Entry) -> dict[str, str]:
    """An entry's cells as texts, blank ones left out. Pieces stand as names: a spreadsheet takes 1-12 for a date."""
    values = {name: cell(getattr(entry, name)) for name in COLUMNS.known}
    return {name: as_written(value) for name, value in values.items() if value}


class _New(Row):
    @property
    def where(self) -> str:
        return f"row {self.number} (new)"


def _read(folder: Path, found: Findings) -> list[Row]:
    """The log's rows; where there is no telling them the problem is noted."""
    if not there(folder / FILE):
        return []
    data = read_bytes(folder / FILE, found)
    return (None if data is None else read_csv(data, FILE, COLUMNS, found)) or []


def _judge(
    written: Sequence[Row], day: Day, rows: Sequence[PlanRow], found: Findings, settled: Moment
) -> tuple[Entry, ...]:
    reader = Reader(day, found)
    read = [(row, entry) for row in written if (entry := reader.entry(row)) is not None]
    known = settled if isinstance(settled, Settled) else Settled(settled)
    check_sense(day, rows, read, reader, known)
    return tuple(entry for _, entry in read)


def _with(data: bytes | None, old: Sequence[Row], new: Entry) -> bytes:
    """The file's bytes with the line added. What a spreadsheet saved in another dress is put in plain CSV, UTF-8."""
    cells = cells_of(new)
    line = [cells.get(name, "") for name in COLUMNS.known]
    if data is not None and _plain(data):
        added = csv_text(COLUMNS.known, [line]).split("\r\n", 1)[1]
        return data + (b"" if data.endswith(b"\n") else b"\r\n") + added.encode("utf-8")
    lines = [[as_written(row.cells.get(name, "")) for name in COLUMNS.known] for row in old]
    return csv_text(COLUMNS.known, [*lines, line]).encode("utf-8")


def _plain(data: bytes) -> bool:
    """Whether a line can be added as it is: UTF-8, commas, the columns in their order."""
    header = data.removeprefix(codecs.BOM_UTF8).split(b"\n", 1)[0].strip()
    try:
        data.decode("utf-8")
    except UnicodeDecodeError:
        return False
    return header == ",".join(COLUMNS.known).encode()


def _replace(path: Path, data: bytes) -> None:
    if path.is_symlink():
        right = "Put the file itself in its place"
        raise BadInput([Problem(FILE, "", "", "", "this is a link, and adding a line would replace it", right)])
    new = path.with_name(f"{_NEW}{secrets.token_hex(4)}")
    try:
        with new.open("xb") as stream:
            if path.exists():
                new.chmod(path.stat().st_mode & 0o777)
            stream.write(data)
            stream.flush()
            os.fsync(stream.fileno())
        new.replace(path)
        sync_folder(path.parent)
    finally:
        new.unlink(missing_ok=True)


@contextmanager
def _waiting(folder: Path) -> Iterator[None]:
    """The folder's lock, waited for: a line takes no time, and two may well come at once."""
    last = time.monotonic() + PATIENCE_S
    with ExitStack() as held:
        while True:
            try:
                held.enter_context(locked(folder))
                break
            except Busy:
                if time.monotonic() > last:
                    raise
                time.sleep(0.02)
        yield


@contextmanager
def _said(folder: Path) -> Iterator[None]:
    """The system's refusal to write, as a problem."""
    try:
        yield
    except OSError as error:
        full = error.errno in (errno.ENOSPC, errno.EDQUOT)
        right = "Make room on the disk." if full else "Check the folder and your rights to write in it."
        wrong = f"the line cannot be written ({error.strerror or type(error).__name__}); the log is as it was"
        raise BadInput([Problem(FILE, "", "", "", wrong, right)]) from error
