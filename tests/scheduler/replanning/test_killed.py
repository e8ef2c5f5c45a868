"""A replanning that is killed leaves the old log and plan or the new ones, whole, and never one of each."""

from __future__ import annotations

import os
import random
import time
from pathlib import Path

import pytest

from scheduler.audit import audit_folder
from scheduler.logbook.commands import add_line, read_running
from scheduler.output import swap
from scheduler.output.files import read_plan, recover
from scheduler.replanning import commands
from tests.scheduler.output.children import dying_at, in_child, killed
from tests.scheduler.replanning.folders import everything, folder_in, middle

FILES = {"plan.json": b"{}", "timetable.csv": b"new"}
NEW = {"log.csv": b"one\ntwo\n"}


def replanning(folder: Path) -> None:
    """Somebody leaves in the middle of the day, and the rest is planned again."""
    running, at = read_running(folder), middle(folder)
    line = {"at": at.isoformat(), "what": "absent", "person": list(running.day.people)[-1]}
    commands.replan_and_write(folder, at, [line], "quick", None, 0, True)


TIMES = [*range(10), *(pytest.param(n, marks=pytest.mark.thorough) for n in range(10, 210))]


@pytest.mark.parametrize("number", TIMES)
def test_killed_at_random(number: int, tmp_path: Path) -> None:
    """After SIGKILL at a random moment the folder holds the old state or the new one, and both pass the audit."""
    folder, chance = folder_in(tmp_path), random.Random(number)
    before, at = everything(folder), middle(folder)
    writing = number % 2 == 0
    killed(commands, lambda: replanning(folder), chance.uniform(0, 0.15 if writing else 1.0), writing)
    recover(folder)
    now = everything(folder)
    changes = read_plan(folder / "plan" / "plan.json").changes
    if changes is None:
        assert now == before
    else:
        assert changes.at == at and b"absent" in now["log.csv"]
        old = {name.removeprefix("plan/"): data for name, data in before.items() if name.startswith("plan/")}
        assert all(now[f"plans-before/0001/{name}"] == data for name, data in old.items())
    assert not audit_folder(folder)
    assert not swap.leftovers(folder)


def test_killed_at_every_step(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Dead before any line of the swap: plan and log.csv are both as they were or both new."""
    monkeypatch.setattr(os, "fsync", lambda handle: None)
    line, code, seen = 0, 9, set()
    while code == 9:
        line += 1
        folder = tmp_path / str(line)
        folder.mkdir()
        swap.put(folder, {"plan.json": b"old"}, {"log.csv": b"one\n"})
        code, _ = in_child(dying_at(line, lambda folder=folder: swap.put(folder, FILES, NEW) and None))  # type: ignore[misc]
        swap.tidy(folder)
        state = ((folder / "plan" / "plan.json").read_bytes(), (folder / "log.csv").read_bytes())
        assert state in {(b"old", b"one\n"), (b"{}", b"one\ntwo\n")}
        assert not swap.leftovers(folder)
        seen.add(state)
    assert code == 0 and len(seen) == 2 and line > 30


def test_a_log_changed_by_hand_meanwhile_is_not_overwritten(tmp_path: Path) -> None:
    """Killed between plan and log, log.csv then saved by hand: that stays, what came with the plan lies beside it."""
    swap.put(tmp_path, FILES, {"log.csv": b"one\n"})
    waiting = tmp_path / f".beside-{(tmp_path / 'plan').stat().st_ino}-log.csv"
    waiting.write_bytes(b"one\ntwo\n")
    log = tmp_path / "log.csv"
    log.write_bytes(b"by hand\n")
    os.utime(log, ns=(time.time_ns() + 10**9, time.time_ns() + 10**9))
    swap.tidy(tmp_path)
    assert log.read_bytes() == b"by hand\n"
    assert (tmp_path / "log-not-added.csv").read_bytes() == b"one\ntwo\n"


def test_a_line_logged_after_a_kill_finds_the_new_log(tmp_path: Path) -> None:
    """A line added after a replanning was killed between plan and log comes behind that replanning's own."""
    folder = folder_in(tmp_path)
    replanning(folder)
    log = (folder / "log.csv").read_bytes()
    (folder / "log.csv").unlink()
    (folder / f".beside-{(folder / 'plan').stat().st_ino}-log.csv").write_bytes(log)
    person = list(read_running(folder).day.people)[-1]
    later = read_plan(folder / "plan" / "plan.json").finish
    add_line(folder, {"at": later.isoformat(), "what": "back", "person": person})
    assert (folder / "log.csv").read_bytes().startswith(log)
    assert b"back" in (folder / "log.csv").read_bytes()
