"""Lines on standard error while a plan is thought out: how long, the best so far, and what no plan can beat."""

from __future__ import annotations

import os
import shutil
import sys
import threading
import time
from dataclasses import dataclass
from types import TracebackType
from typing import TYPE_CHECKING, TextIO

from models.day import Day
from scheduler.output.layout import WIDTH, clip, columns, lasting, number, wrapped

if TYPE_CHECKING:
    from scheduler.timetable.record import Timetable

_EVERY = 10.0  # seconds between lines where nobody looks


@dataclass(frozen=True, slots=True)
class _Said:
    """The same thing said in full, in brief and in the fewest words; left out: as the one before."""

    whole: str
    brief: str = ""
    least: str = ""

    def __post_init__(self) -> None:
        object.__setattr__(self, "brief", self.brief or self.whole)
        object.__setattr__(self, "least", self.least or self.brief)


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
        self._best = _Said("looking for a first plan")
        self._bound = _Said("")
        self._pending = False
        self._lock = threading.Lock()
        self._ended = threading.Event()
        self._ticker: threading.Thread | None = None

    def __call__(self, stage: str, table: Timetable) -> None:
        """A better plan: `stage` is where it came from, `table` its figures."""
        with self._lock:
            self._best = _best(table, self.day, stage)
            self._write()

    def bound(self, late_min: float, work_min: float) -> None:
        """What is proven so far: no plan has fewer late minutes nor less time and trouble than this."""
        with self._lock:
            floor = f"; no plan below {number(late_min)}"
            self._bound = _Said(
                f"{floor} late min and {number(work_min)} of time and trouble", f"{floor} and {number(work_min)}"
            )
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
        spent = lasting(moment - self._began)
        if self.live:
            width = max(20, shutil.get_terminal_size((80, 24)).columns - 1)
            self._put(f"\r{clip(self._fitting(spent, width), width)}\x1b[K")
        elif now or self._last is None or moment - self._last >= _EVERY:
            told = f"{spent}: {self._best.whole}{self._bound.whole}"
            self._put("".join(f"{line}\n" for line in wrapped(told, WIDTH, 4)))
            self._last, self._pending = moment, False
        else:
            self._pending = True

    def _fitting(self, spent: str, width: int) -> str:
        """The fullest way to say it that leaves the bound in sight."""
        ways = [(self._best.whole, self._bound.whole)]
        ways += [(best, self._bound.brief) for best in (self._best.brief, self._best.least)]
        lines = [f"{spent}: {best}{bound}" for best, bound in ways]
        return next((line for line in lines if columns(line) <= width), lines[-1])

    def _put(self, text: str) -> None:
        encoding = getattr(self.stream, "encoding", None) or "utf-8"
        self.stream.write(text.encode(encoding, "replace").decode(encoding))
        self.stream.flush()


def _best(table: Timetable, day: Day | None, stage: str) -> _Said:
    """The best so far: late minutes (times priority), the sum that is weighed, the last piece; or what fails."""
    if table.unplaced or table.broken:
        return _Said(f"no plan yet that holds ({stage})", "no plan yet that holds")
    late, work = number(table.late / 60), number(table.work / 60)
    done = None if day is None else day.at(table.finish)
    last = f"last piece after {lasting(table.finish)}" if done is None else f"last piece {done:%a} {done:%H:%M}"
    many = f"{late} late min times priority" if table.late else "nothing late"
    few = f"{late} late min" if table.late else "nothing late"
    return _Said(
        f"best so far {many}, {work} of time and trouble, {last} ({stage})",
        f"{few}, sum {work}, {last}",
        f"{few}, sum {work}",
    )
