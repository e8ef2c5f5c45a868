"""Work done in a child process that is killed, and marks by which a plan's four files are known to belong together."""

from __future__ import annotations

import json
import os
import select
import signal
import sys
import time
from collections.abc import Callable
from pathlib import Path
from types import FrameType
from typing import Any

from models.plan import Plan
from scheduler.output import swap
from scheduler.output.files import read_plan, read_timetable, write_plan
from tests.scheduler.output.planned import FILES, finish, loading, planned


def write(folder: Path, mark: int) -> None:
    """Write a plan that bears the mark in each of its files."""
    plan: Plan = planned("two-presses").plan.model_copy(update={"seed": mark, "orders": (finish("G1", f"c{mark}"),)})
    write_plan(folder, plan, loading(mark, 0), f"<html>{mark}</html>" + " " * 20_000)


def mark_of(plan: Path) -> int:
    """The mark of a plan's folder, after seeing that it is whole and of one piece."""
    assert {path.name for path in plan.iterdir()} == FILES
    mark = read_plan(plan / "plan.json").seed
    assert {row.loading for row in read_timetable(plan / "timetable.csv")} == {mark}
    assert f",c{mark}," not in (plan / "plan.json").read_text() and f"G1,c{mark}," in (plan / "finish.csv").read_text()
    assert (plan / "timeline.html").read_text() == f"<html>{mark}</html>" + " " * 20_000
    json.loads((plan / "plan.json").read_text())
    return mark


def kept(folder: Path) -> list[int]:
    """The marks of the plans kept from before, the oldest first; each is whole."""
    return [mark_of(path) for path in swap.before(folder)]


def hidden(folder: Path) -> list[str]:
    """What lies hidden in the folder beside the lock."""
    return sorted(path.name for path in folder.iterdir() if path.name.startswith(".plan"))


def in_child(work: Callable[[int], None], kill_after: float | None = None) -> tuple[int, bytes]:
    """Fork, let the child work (it is given a pipe to write to), kill it or wait; its exit status and what it wrote."""
    read_end, write_end = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            os.close(read_end)
            work(write_end)
        except BaseException:
            os._exit(99)
        os._exit(0)
    os.close(write_end)
    if kill_after is not None:
        time.sleep(kill_after)
        os.kill(child, signal.SIGKILL)
    with os.fdopen(read_end, "rb") as stream:
        told = stream.read()
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]), told


def killed(module: Any, work: Callable[[], object], after: float, writing: bool) -> None:
    """Work in a child that gets SIGKILL so many seconds after it began, or after the module's `write` was called."""
    read_end, write_end = os.pipe()
    child = os.fork()
    if child == 0:
        try:
            os.dup2(os.open(os.devnull, os.O_WRONLY), 1)
            write = module.write

            def telling(*given: object) -> None:
                os.write(write_end, b"w")
                write(*given)

            module.write = telling
            work()
        finally:
            os._exit(0)
    os.close(write_end)
    if writing:
        select.select([read_end], [], [], 60)
    time.sleep(after)
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    os.close(read_end)


def dying_at(line: int, work: Callable[[], None]) -> Callable[[int], None]:
    """The work, cut off dead before the so-many-th line of swap.py that it runs."""

    def until(_: int) -> None:
        seen = 0

        def trace(frame: FrameType, event: str, _: Any) -> Any:
            nonlocal seen
            if frame.f_code.co_filename != swap.__file__:
                return None
            if event == "line":
                seen += 1
                if seen == line:
                    os._exit(9)
            return trace

        sys.settrace(trace)
        work()

    return until
