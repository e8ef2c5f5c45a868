"""A sound day folder to spoil, and the problems that reading it brings."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from pathlib import Path

import pytest

from models.problem import BadInput, Problem
from scheduler.intake import read_day, write_starter

NOW = datetime(2026, 12, 1, 7, 0)  # a Tuesday


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """The starter folder: sound as it stands."""
    write_starter(tmp_path / "day", NOW)
    return tmp_path / "day"


@pytest.fixture
def edit(folder: Path) -> Callable[[str, str, str], None]:
    """Replace a text that must be there in one of the folder's files."""

    def replace(file: str, old: str, new: str) -> None:
        text = (folder / file).read_text(encoding="utf-8")
        assert old in text, f"{old!r} is not in {file}"
        (folder / file).write_text(text.replace(old, new, 1), encoding="utf-8")

    return replace


@pytest.fixture
def problems(folder: Path) -> Callable[[], list[Problem]]:
    """Read the folder, which must fail, and give every problem."""

    def read() -> list[Problem]:
        with pytest.raises(BadInput) as caught:
            read_day(folder, NOW)
        return list(caught.value.problems)

    return read


@pytest.fixture
def only(problems: Callable[[], list[Problem]]) -> Callable[[], Problem]:
    """The one problem there must be."""

    def read() -> Problem:
        every = problems()
        assert len(every) == 1, "\n".join(map(str, every))
        return every[0]

    return read
