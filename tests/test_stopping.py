"""A command that is interrupted says so, ends with the shells' exit code for it, and leaves the folder as it was."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from scheduler.output.lock import LOCK
from tests.scenarios.folders import SCENARIOS

pytestmark = pytest.mark.skipif(os.name != "posix", reason="interrupts are sent as signals")


def by_default() -> None:
    """A process that a shell began in the background would not hear of interrupts."""
    signal.signal(signal.SIGINT, signal.default_int_handler)


@pytest.mark.parametrize("clock", [(), ("--seconds", "60")])
@pytest.mark.parametrize("later", [0.0, 2.0])
def test_a_plan_that_is_stopped_writes_nothing(clock: tuple[str, ...], later: float, tmp_path: Path) -> None:
    """As soon as a first plan is told of, and when solvers have been at work for some time."""
    folder = tmp_path / "day"
    shutil.copytree(SCENARIOS / "two-presses", folder, ignore=shutil.ignore_patterns("plan"))
    before = {path.name for path in folder.iterdir()}
    command = [sys.executable, "-m", "scheduler.cli", "plan", str(folder), "--effort", "thorough", *clock]
    with subprocess.Popen(command, stderr=subprocess.PIPE, text=True, preexec_fn=by_default) as run:
        assert run.stderr is not None
        assert "best so far" in run.stderr.readline()
        time.sleep(later)
        run.send_signal(signal.SIGINT)
        said = run.stderr.read()
    assert run.returncode == 130
    assert "Stopped; nothing was written." in said
    assert {path.name for path in folder.iterdir()} - {LOCK} == before


@pytest.mark.parametrize("send", [os.kill, os.killpg])
def test_plans_side_by_side_are_stopped_too(send: Callable[[int, int], None], tmp_path: Path) -> None:
    """Whether the command alone is interrupted or, as in a terminal, the processes that plan for it as well."""
    shutil.copytree(SCENARIOS / "two-presses", tmp_path / "day", ignore=shutil.ignore_patterns("plan"))
    command = [sys.executable, "-m", "scheduler.cli", "compare", str(tmp_path / "day"), "--effort", "thorough"]
    with subprocess.Popen(
        command, stderr=subprocess.PIPE, text=True, start_new_session=True, preexec_fn=by_default
    ) as run:
        time.sleep(4)
        send(run.pid, signal.SIGINT)
        _, said = run.communicate(timeout=60)  # a thorough plan would take longer
    assert run.returncode == 130
    assert "Stopped." in said
    with pytest.raises(ProcessLookupError):
        os.killpg(run.pid, signal.SIGKILL)
