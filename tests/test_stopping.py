"""A command that is interrupted says so, ends with the shells' exit code for it, and leaves the folder as it was."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from scheduler.output.lock import LOCK
from tests.scenarios.folders import SCENARIOS


def by_default() -> None:
    """A process that a shell began in the background would not hear of interrupts."""
    signal.signal(signal.SIGINT, signal.default_int_handler)


@pytest.mark.skipif(os.name != "posix", reason="interrupts are sent as signals")
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
