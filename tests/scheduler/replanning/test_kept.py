"""The longest common subsequence by bits, against the textbook's table (Cormen et al., Introduction to Algorithms)."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from scheduler.replanning.kept import in_common

LISTS = st.lists(st.sampled_from("abcd"), max_size=40)


def by_table(one: list[str], other: list[str]) -> int:
    """The textbook's dynamic programme."""
    table = [[0] * (len(other) + 1) for _ in range(len(one) + 1)]
    for i, a in enumerate(one, 1):
        for j, b in enumerate(other, 1):
            table[i][j] = table[i - 1][j - 1] + 1 if a == b else max(table[i - 1][j], table[i][j - 1])
    return table[-1][-1]


@given(LISTS, LISTS)
def test_as_many_as_the_textbook_finds(one: list[str], other: list[str]) -> None:
    """Both ways of counting agree, whatever repeats."""
    assert in_common(one, other) == by_table(one, other)
