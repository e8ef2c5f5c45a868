"""The cautions."""

from __future__ import annotations

import pytest

from scheduler.output.cautions import CAUTIONS, SHORT_CAUTION

DANGERS = (
    "burn, gloves, guard, closed press, film maker, garment maker, vinyl chloride, fumes, ventilate, circuit, "
    "licensed electrician, Local codes"
)


@pytest.mark.parametrize("word", DANGERS.split(", "))
def test_each_danger_is_named(word: str) -> None:
    """Burns, data sheets, fumes, circuits and local rules are each named in a sentence (common practice)."""
    assert any(word in sentence for sentence in CAUTIONS)


def test_they_are_sentences() -> None:
    """Every caution is a sentence, and the short one fits a line of a terminal."""
    assert all(sentence.endswith(".") and sentence[0].isupper() for sentence in (*CAUTIONS, SHORT_CAUTION))
    assert len(SHORT_CAUTION) <= 96
