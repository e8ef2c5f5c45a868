"""Lines that keep to a width."""

from __future__ import annotations

from collections import Counter
from datetime import datetime

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scheduler.intake.findings import one_line
from scheduler.output.layout import (
    clip,
    columns,
    counted,
    date_words,
    fitted,
    lasting,
    number,
    on_the_minute,
    pad,
    tabled,
    wrapped,
)


@given(st.text(), st.integers(4, 40))
def test_any_text_can_be_cut_and_filled(text: str, width: int) -> None:
    """Whatever the text holds, it can be brought to a width and holds nothing a terminal would act on."""
    assert columns(clip(text, width)) <= width
    assert columns(pad(text, width)) == columns(pad(text, width, right=True)) == width
    assert clip(text, width).isprintable()


@given(st.text(), st.integers(12, 60), st.integers(0, 8))
def test_any_text_can_be_wrapped(text: str, width: int, indent: int) -> None:
    """Wrapped lines keep to the width and lose no word."""
    lines = wrapped(text, width, indent, "> ")
    assert all(columns(line) <= width for line in lines)
    assert "".join("".join(lines).split()) == ">" + "".join(clip(text, 10**6).split())


def test_wide_characters_take_two_columns() -> None:
    """Wide characters count two columns and combining marks none (Unicode, annex 11)."""
    assert [columns(text) for text in ("abc", "漢字", "Ａ", "e\u0301", "é")] == [3, 4, 2, 1, 1]


def test_later_lines_are_indented() -> None:
    """What does not fit goes on under the text, and a word too long is broken."""
    assert wrapped("one two three", 9, 2, "- ") == ["- one two", "  three"]
    assert wrapped("abcdefghij", 6, 2) == ["abcdef", "  ghij"]


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (0, "0 s"),
        (45, "45 s"),
        (60, "1 min"),
        (520, "8 min 40 s"),
        (3600, "1 h"),
        (7500, "2 h 5 min"),
        (20197, "5 h 37 min"),
    ],
)
def test_lengths_of_time(seconds: int, words: str) -> None:
    """Lengths of time are told as people tell them."""
    assert lasting(seconds) == words


def test_small_words() -> None:
    """Figures, counts and dates in words."""
    assert (number(12.0), number(12.34), number(0.04)) == ("12", "12.3", "0")
    assert (counted(1, "piece"), counted(2, "piece"), counted(2, "person", "people")) == (
        "1 piece",
        "2 pieces",
        "2 people",
    )
    at = datetime(2026, 12, 8, 9, 5, 1)
    assert date_words(at) == "Tue 8 Dec 2026"
    assert (on_the_minute(at).minute, on_the_minute(at, up=True).minute) == (5, 6)
    assert on_the_minute(at.replace(second=0), up=True).minute == 5


@given(st.lists(st.tuples(st.text(min_size=1), *[st.sampled_from(["a", "10:30", "93 of 100"])] * 3), min_size=1))
def test_a_table_gives_way_and_loses_nothing(rows: list[tuple[str, ...]]) -> None:
    """Whatever a name holds, no line is wider than asked, and every sign of every cell is still there."""
    lines = list(tabled(rows, 60, indent=2))
    assert all(columns(line) <= 60 and "…" not in line for line in lines)
    kept = Counter("".join(lines).replace(" ", ""))
    assert kept == Counter("".join("".join(one_line(cell, 10_000).split()) for row in rows for cell in row))


def test_a_path_is_not_broken() -> None:
    """A long line is wrapped between words, later lines further in; one with a path too long for a line stays whole."""
    path = "/".join(["folder"] * 20)
    assert fitted(f"  begin with {path} now") == f"  begin with {path} now"
    assert fitted(f"  {'word ' * 20}").splitlines() == [f"  {'word ' * 14}word", f"    {'word ' * 4}word"]
