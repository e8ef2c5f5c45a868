"""A plan's folder is replaced whole or not at all, also when the program is killed at any moment."""

from __future__ import annotations

import os
import random
from pathlib import Path

import pytest

from scheduler.output import swap
from scheduler.output.files import recover
from tests.scheduler.output.children import dying_at, hidden, in_child, kept, mark_of, write
from tests.scheduler.output.planned import planned

ways = pytest.mark.parametrize("exchanging", [True, False], ids=["exchange", "two renames"])


@pytest.fixture(autouse=True)
def _no_forgetting(monkeypatch: pytest.MonkeyPatch) -> None:
    planned("two-presses")  # before anything forks
    monkeypatch.setattr(swap, "KEEP", 10_000)
    monkeypatch.setattr(os, "fsync", lambda handle: None)  # a killed process loses nothing the system has; it is slow


def _way(exchanging: bool, monkeypatch: pytest.MonkeyPatch) -> None:
    if not exchanging:
        monkeypatch.setattr(swap, "exchange", lambda one, other: False)


@ways
def test_killed_at_random(exchanging: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Sixty times killed at a random moment: the plan is an old or a new one, whole, and no finished one is lost."""
    _way(exchanging, monkeypatch)
    chance, finished, last = random.Random(7), [1], 0
    write(tmp_path, 1)
    for turn in range(1, 61):

        def work(pipe: int, first: int = turn * 1000) -> None:
            for mark in range(first, first + 900):
                write(tmp_path, mark)
                os.write(pipe, f"{mark} ".encode())

        code, told = in_child(work, kill_after=chance.uniform(0, 0.05))
        assert code == -9
        if exchanging:
            assert mark_of(tmp_path / "plan") >= last
        recover(tmp_path)
        finished += map(int, told.split())
        last = mark_of(tmp_path / "plan")
        assert last >= finished[-1] and not hidden(tmp_path)
    everything = [*kept(tmp_path), last]
    assert everything == sorted(set(everything)) and set(finished) <= set(everything)
    assert len(finished) > 10


@ways
@pytest.mark.parametrize("plans", [0, 2])
def test_killed_at_every_step(plans: int, exchanging: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Dead before any line of the swap: what was there is there, and the next run takes up from it."""
    _way(exchanging, monkeypatch)
    line, code, published = 0, 9, 0
    while code == 9:
        line += 1
        folder = tmp_path / str(line)
        folder.mkdir()
        for mark in range(1, plans + 1):
            write(folder, mark)
        code, _ = in_child(dying_at(line, lambda folder=folder: write(folder, 50)))  # type: ignore[misc]
        if exchanging and plans:
            assert mark_of(folder / "plan") in (plans, 50)
        recover(folder)
        now = mark_of(folder / "plan") if (folder / "plan").exists() else 0
        assert now in (plans, 50) and not hidden(folder)
        assert kept(folder) == list(range(1, plans + (now == 50)))
        published += now == 50
        write(folder, 60)
        assert mark_of(folder / "plan") == 60 and kept(folder)[-1:] == [now][: now > 0]
    assert code == 0 and line > 20 and 0 < published < line


def test_killed_while_forgetting(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Dead while the oldest plan is thrown away: no half of it is seen, the newest are all there."""
    monkeypatch.setattr(swap, "KEEP", 2)
    line, code = 0, 9
    while code == 9:
        line += 1
        folder = tmp_path / str(line)
        folder.mkdir()
        for mark in range(1, 4):
            write(folder, mark)
        code, _ = in_child(dying_at(line, lambda folder=folder: write(folder, 4)))  # type: ignore[misc]
        assert [*kept(folder), mark_of(folder / "plan")][-2:] in ([2, 3], [2, 4], [3, 4])
        write(folder, 5)
        assert not hidden(folder) and len(kept(folder)) == 2 and mark_of(folder / "plan") == 5
    assert code == 0


def test_a_copied_folder_loses_nothing(tmp_path: Path) -> None:
    """A whole plan left hidden by a killed run, then copied with its folder, is kept among the plans before."""
    write(tmp_path, 1)
    write(tmp_path, 2)
    (tmp_path / "plans-before" / "0001").rename(tmp_path / ".plan-next-1")
    recover(tmp_path)
    assert mark_of(tmp_path / "plan") == 2 and kept(tmp_path) == [1]
