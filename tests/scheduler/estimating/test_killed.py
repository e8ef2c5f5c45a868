"""An accepted order that is killed leaves the old orders.csv and plan or the new ones, and never one of each."""

from __future__ import annotations

import json
import os
import random
from pathlib import Path

import pytest

from scheduler.audit import audit_folder
from scheduler.estimating import accept
from scheduler.estimating.commands import typed
from scheduler.output import swap
from scheduler.output.files import recover
from tests.scheduler.output.children import dying_at, in_child, killed
from tests.scheduler.replanning.folders import everything, folder_in

ORDER = {"order": "1005", "garment": "market-tee", "design": "stall-chest", "quantity": "3"}
TIMES = [*range(5), *(pytest.param(n, marks=pytest.mark.thorough) for n in range(5, 55))]


def accepting(folder: Path) -> None:
    """The order is accepted."""
    accept.accept(folder, typed(folder, ORDER), "quick", 0, True)


@pytest.mark.parametrize("number", TIMES)
def test_killed_at_random(number: int, tmp_path: Path) -> None:
    """After SIGKILL at a random moment orders.csv and the plan are both old or both new, and stand the audit."""
    folder, chance = folder_in(tmp_path), random.Random(number)
    before = everything(folder)
    writing = number % 5 != 0
    killed(accept, lambda: accepting(folder), chance.uniform(0, 0.2 if writing else 1.5), writing)
    recover(folder)
    now = everything(folder)
    planned = {order["order"] for order in json.loads(now["plan/plan.json"])["orders"]}
    if b"1005" in now["orders.csv"]:
        assert "1005" in planned and now["plans-before/0001/plan.json"] == before["plan/plan.json"]
    else:
        assert now == before
    assert not audit_folder(folder)
    assert not swap.leftovers(folder)


def test_killed_at_every_step(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Dead before any line of the swap: the plan and two files beside it are all as they were or all new."""
    monkeypatch.setattr(os, "fsync", lambda handle: None)
    line, code, seen = 0, 9, set()
    new = {"orders.csv": b"2", "log.csv": b"2"}
    while code == 9:
        line += 1
        folder = tmp_path / str(line)
        folder.mkdir()
        swap.put(folder, {"plan.json": b"1"}, {"orders.csv": b"1", "log.csv": b"1"})
        code, _ = in_child(dying_at(line, lambda folder=folder: swap.put(folder, {"plan.json": b"2"}, new) and None))  # type: ignore[misc]
        swap.tidy(folder)
        state = {(folder / name).read_bytes() for name in ("plan/plan.json", "orders.csv", "log.csv")}
        assert len(state) == 1 and not swap.leftovers(folder)
        seen |= state
    assert code == 0 and seen == {b"1", b"2"} and line > 40
