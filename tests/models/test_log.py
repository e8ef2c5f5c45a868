"""An event of the day."""

from __future__ import annotations

import re
from datetime import datetime
from pathlib import Path

import pytest
from pydantic import ValidationError

from models.log import LOG_WORDS, USES, Entry

README = (Path(__file__).parents[2] / "README.md").read_text(encoding="utf-8")
TEN = datetime(2026, 12, 1, 10)


def test_every_event_says_which_columns_it_takes() -> None:
    """Each word of the contract (section 6) has its columns, and they are columns of the log."""
    assert LOG_WORDS == ("down", "up", "done", "spoiled", "absent", "back", "rush", "cancel", "ready")
    assert tuple(USES) == LOG_WORDS
    assert all({*use.needs, *use.may} <= set(Entry.model_fields) - {"at", "what", "note"} for use in USES.values())


def test_the_columns_are_those_of_the_contract() -> None:
    """log.csv has exactly the columns that were agreed on, in their order."""
    assert ",".join(Entry.model_fields) == "at,what,press,person,order,line,pieces,until,note"


def test_the_readme_tells_every_column_and_event() -> None:
    """README.md's section on log.csv lists each column once and explains each event."""
    section = README.split("### log.csv")[1].split("\n## ")[0]
    columns, events = section.split("| `what` | columns")
    assert re.findall(r"^\| `(\w+)`", columns, re.MULTILINE) == list(Entry.model_fields)
    assert list(dict.fromkeys(re.findall(r"^\| `(\w+)`", events, re.MULTILINE))) == list(LOG_WORDS)


@pytest.mark.parametrize(
    ("note", "priority"),
    [
        ("priority 3", 3.0),
        ("they called; Priority: 2.5", 2.5),
        ("priority=10, please", None),
        ("priority=10", 10.0),
        ("top priority", None),
        ("apriority 4", None),
        ("", None),
    ],
)
def test_a_rush_keeps_its_priority_in_the_note(note: str, priority: float | None) -> None:
    """A rush's note gives the new priority after that word; no other event has one."""
    assert Entry(at=TEN, what="rush", order="G1", note=note).priority == priority
    assert Entry(at=TEN, what="cancel", order="G1", note=note).priority is None


@pytest.mark.parametrize(
    "wrong", [{"what": "lost"}, {"note": "a\x1b[31mb"}, {"note": "x" * 201}, {"at": "ten"}, {"who": "ada"}]
)
def test_nothing_else_is_an_event(wrong: dict[str, str]) -> None:
    """Unknown words and columns, no times and notes that steer a terminal are refused."""
    with pytest.raises(ValidationError):
        Entry.model_validate({"at": TEN, "what": "down", "press": "window", **wrong})
