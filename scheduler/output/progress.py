"""Lines on standard error while a plan is thought out: how long, the best so far, and what no plan can beat."""

from __future__ import annotations

import os
import shutil
import sys
import threading
import time
from types import TracebackType
from typing import TYPE_CHECKING, TextIO

from models.day import Day
from scheduler.output.layout import clip, lasting, number

if TYPE_CHECKING:
    from scheduler.timetable.record import Timetable

_EVERY = 10.0  # seconds between lines where nobody looks


class Progress:
    """To be handed on as `tell` to planning, inside a `with`.

    On a terminal one line is written over and over, once a second; where it is piped a line is written for the
    first plan, at most every ten seconds after it, and at the end. `silent` (with --json) writes nothing.
    """

    def __init__(self, day: Day | None = None, silent: bool = False, stream: TextIO | None = None) -> None:
        self.day, self.silent = day, silent
        self.stream = sys.stderr if stream is None else stream
        self.live = not silent and self.stream.isatty() and os.environ.get("TERM") != "dumb"
        self._began = time.monotonic()
        self._last: float | None = None  # when the last line was written
        self._best = "looking for a first plan"
        self._bound = ""
        self._pending = False
        self._lock = threading.Lock()
        self._ended = threading.Event()
        self._ticker: threading.Thread | None = None

    def __call__(self, stage: str, table: Timetable) -> None:
        """A better plan: `stage` is where it came from, `table` its figures."""
        with self._lock:
            self._best = f"{_best_words(table, self.day)} ({stage})"
            self._write()

    def bound(self, late_min: float, work_min: float) -> None:
        """What is proven so far: no plan has fewer late minutes nor less time and trouble than this."""
        with self._lock:
            self._bound = f"; no plan below {number(late_min)} late min and {number(work_min)} of time and trouble"
            self._write()

    def __enter__(self) -> Progress:
        if self.live:
            self._ticker = threading.Thread(target=self._tick, daemon=True)
            self._ticker.start()
        return self

    def __exit__(self, kind: type[BaseException] | None, fault: BaseException | None, at: TracebackType | None) -> None:
        self._ended.set()
        if self._ticker is not None:
            self._ticker.join()
        with self._lock:
            if self.live:
                self._write()
                self._put("\n")
            elif self._pending:
                self._write(now=True)

    def _tick(self) -> None:
        while not self._ended.wait(1.0):
            with self._lock:
                self._write()

    def _write(self, now: bool = False) -> None:
        if self.silent:
            return
        moment = time.monotonic()
        text = f"{lasting(moment - self._began)}: {self._best}{self._bound}"
        if self.live:
            width = shutil.get_terminal_size((80, 24)).columns
            self._put(f"\r{clip(text, max(20, width - 1))}\x1b[K")
        elif now or self._last is None or moment - self._last >= _EVERY:
            self._put(f"{clip(text, 400)}\n")
            self._last, self._pending = moment, False
        else:
            self._pending = True

    def _put(self, text: str) -> None:
        encoding = getattr(self.stream, "encoding", None) or "utf-8"
        self.stream.write(text.encode(encoding, "replace").decode(encoding))
        self.stream.flush()


def _best_words(table: Timetable, day: Day | None) -> str:
    """The best so far: late minutes (times priority) and when the last piece is done; or what fails."""
    if table.unplaced or table.broken:
        return "no plan yet that holds"
    late = f"{number(table.late / 60)} late min times priority" if table.late else "nothing late"
    if day is None:
        return f"best so far {late}, last piece after {lasting(table.finish)}"
    done = day.at(table.finish)
    return f"best so far {late}, last piece {done:%a} {done:%H:%M}"
