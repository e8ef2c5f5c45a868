"""Lines on standard error while a plan is thought out."""

from __future__ import annotations

import io
import re

import pytest

from scheduler.output import progress
from scheduler.output.layout import columns
from scheduler.output.progress import Progress
from scheduler.timetable.record import Timetable
from tests.scheduler.output.planned import planned


class _Screen(io.StringIO):
    def isatty(self) -> bool:
        return True


class _Clock:
    def __init__(self) -> None:
        self.now = 100.0

    def monotonic(self) -> float:
        return self.now


@pytest.fixture
def clock(monkeypatch: pytest.MonkeyPatch) -> _Clock:
    """A clock that goes when told."""
    mine = _Clock()
    monkeypatch.setattr(progress, "time", mine)
    monkeypatch.setenv("TERM", "xterm")
    return mine


def _table(late: float = 0.0, finish: int = 3600, unplaced: int = 0) -> Timetable:
    return Timetable([], [], unplaced=unplaced, late=late, work=5400.0, finish=finish)


def said(out: io.StringIO) -> str:
    """What was piped, its long lines put together again."""
    assert all(columns(line) <= 80 for line in out.getvalue().splitlines())
    return out.getvalue().replace("\n    ", " ")


def test_piped_it_says_little(clock: _Clock) -> None:
    """Where it is piped the first plan and the last are told, and at most a line every ten seconds between them."""
    out = io.StringIO()
    with Progress(stream=out) as told:
        for second in range(25):
            clock.now = 100.0 + second
            told("search", _table(late=60.0 * (25 - second)))
    lines = said(out).splitlines()
    assert [line.split(":")[0] for line in lines] == ["0 s", "10 s", "20 s", "24 s"]
    assert (
        lines[-1]
        == "24 s: best so far 1 late min times priority, 90 of time and trouble, last piece after 1 h (search)"
    )


def test_nothing_is_told_twice(clock: _Clock) -> None:
    """Where nothing has come since the last line, the end adds none."""
    out = io.StringIO()
    with Progress(stream=out) as told:
        told("seed", _table())
        clock.now += 5
    assert said(out) == "0 s: best so far nothing late, 90 of time and trouble, last piece after 1 h (seed)\n"


def test_on_a_terminal_one_line_is_rewritten(clock: _Clock, monkeypatch: pytest.MonkeyPatch) -> None:
    """On a terminal each line overwrites the one before, fits the window, and the last ends in a line break."""
    monkeypatch.setenv("COLUMNS", "60")
    out = _Screen()
    with Progress(planned("two-presses").day, stream=out) as told:
        told("seed", _table(late=720))
        told.bound(3.0, 140.0)
        told("search", _table())
    shown = out.getvalue()
    assert shown.endswith("\n") and shown.count("\n") == 1
    parts = [part.removesuffix("\x1b[K") for part in shown.strip().split("\r")]
    assert all(len(part) <= 59 for part in parts)
    assert parts[0] == "0 s: 12 late min, sum 90, last piece Thu 09:00"
    assert parts[-1] == "0 s: nothing late, sum 90; no plan below 3 and 140"


def test_the_bound_is_told(clock: _Clock) -> None:
    """What no plan can beat stands beside the best so far."""
    out = io.StringIO()
    with Progress(stream=out) as told:
        told.bound(3.0, 140.25)
        told("seed", _table(late=600))
    assert re.fullmatch(
        r"0 s: looking for a first plan; no plan below 3 late min and 140.2 of time and trouble\n"
        r"0 s: best so far 10 late min times priority, .* \(seed\); no plan below 3 late min and 140.2 .*\n",
        said(out),
    )


@pytest.mark.parametrize(("columns", "work"), [(80, 12_345.6), (100, 12_345.6), (200, 123.4)])
def test_the_bound_stays_in_sight(clock: _Clock, monkeypatch: pytest.MonkeyPatch, columns: int, work: float) -> None:
    """From 80 columns on the line holds the seconds, the best so far and the bound, each whole."""
    monkeypatch.setenv("COLUMNS", str(columns))
    out = _Screen()
    with Progress(planned("two-presses").day, stream=out) as told:
        clock.now += 754
        told.bound(1234.5, work)
        table = _table(late=75_678)
        table.work = 60 * work + 6000
        told("search", table)
    last = out.getvalue().strip().split("\r")[-1].removesuffix("\x1b[K")
    assert len(last) < columns and "…" not in last
    assert last.startswith("12 min 34 s: ")
    for figure in ("1261.3 late min", f"{work + 100:.1f}", "no plan below 1234.5", f"and {work:.1f}"):
        assert figure in last


def test_a_plan_that_does_not_hold_is_none(clock: _Clock) -> None:
    """A first try that leaves pieces out is not called a plan."""
    out = io.StringIO()
    with Progress(stream=out) as told:
        told("seed", _table(unplaced=3))
    assert out.getvalue() == "0 s: no plan yet that holds (seed)\n"


@pytest.mark.parametrize("stream", [io.StringIO, _Screen])
def test_silent(stream: type[io.StringIO], clock: _Clock) -> None:
    """With --json nothing is written, terminal or not."""
    out = stream()
    with Progress(silent=True, stream=out) as told:
        told("seed", _table())
        told.bound(0, 0)
    assert out.getvalue() == ""


def test_a_dumb_terminal_gets_plain_lines(clock: _Clock, monkeypatch: pytest.MonkeyPatch) -> None:
    """A terminal that cannot go back gets the lines of a pipe."""
    monkeypatch.setenv("TERM", "dumb")
    out = _Screen()
    with Progress(stream=out) as told:
        told("seed", _table())
    assert "\r" not in out.getvalue() and out.getvalue().endswith("(seed)\n")


def test_a_failure_is_not_swallowed(clock: _Clock) -> None:
    """What goes wrong while planning comes through, on a line of its own."""
    out = _Screen()
    with pytest.raises(ZeroDivisionError), Progress(stream=out):
        raise ZeroDivisionError
    assert out.getvalue().endswith("\n")
