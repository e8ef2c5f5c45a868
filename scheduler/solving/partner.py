"""By the clock: a second search beside the first, in a process of its own, for Python runs on one core at a time."""

from __future__ import annotations

import os
import pickle
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass

from models.day import Day
from scheduler.instance import Chain, Routes
from scheduler.solving.efforts import Effort
from scheduler.timetable.manner import Manner
from scheduler.timetable.programme import Programme


@dataclass(frozen=True, slots=True)
class Found:
    """A programme, how each line goes, and the manner of serving it was best played in."""

    chains: tuple[Chain, ...]
    programme: Programme
    manner: Manner


Search = Callable[[Day, Routes, Effort, int, float], Found]  # seed, seconds; it must be importable by its name


class Partner:
    """A search under way elsewhere for so many seconds. Where none can be begun, or it fails, it finds nothing."""

    def __init__(self, search: Search, day: Day, routes: Routes, effort: Effort, seed: int, seconds: float) -> None:
        self.over = False  # whether there is nothing to wait for
        self._found: Found | None = None
        asked = pickle.dumps((search, day, routes, effort, seed, time.time() + seconds))
        try:
            self._process = subprocess.Popen(
                [sys.executable, "-m", __name__],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=subprocess.DEVNULL,
                env={**os.environ, "PYTHONPATH": os.pathsep.join(filter(None, sys.path))},
            )
        except OSError:
            self.over = True
            return
        self._listening = threading.Thread(target=self._listen, args=(asked,), daemon=True)
        self._listening.start()

    def _listen(self, asked: bytes) -> None:
        answer, _ = self._process.communicate(asked)
        if self._process.returncode == 0:
            self._found = pickle.loads(answer)

    def found(self) -> Found | None:
        """Its answer, once, when it is there; None before and after, and where there is none."""
        if self.over or self._listening.is_alive():
            return None
        self.over = True
        return self._found

    def end(self) -> None:
        """Give it up, if it is still at work."""
        if not self.over:
            self.over = True
            self._process.kill()
            self._listening.join()


def main() -> None:
    """Search for what is asked on the standard input, and answer on the standard output."""
    search, day, routes, effort, seed, until = pickle.load(sys.stdin.buffer)
    found = search(day, routes, effort, seed, until - time.time())
    sys.stdout.buffer.write(pickle.dumps(found))


if __name__ == "__main__":
    main()
