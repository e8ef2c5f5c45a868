"""A folder held while something is written in it."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from scheduler.intake import read_day
from scheduler.output.files import recover
from scheduler.output.lock import locked


@contextmanager
def held(folder: Path) -> Iterator[None]:
    """The folder, there, locked, and clear of what a killed run left. Raises BadInput or Busy."""
    if not folder.is_dir():
        read_day(folder)  # says what is wrong with it
    with locked(folder):
        recover(folder)
        yield
