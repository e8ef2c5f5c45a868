"""How many loadings stay on their press and in their order between two plans."""

from __future__ import annotations

from collections.abc import Hashable, Iterable, Sequence


def in_common(one: Sequence[Hashable], other: Iterable[Hashable]) -> int:
    """The length of the longest common subsequence.

    By bits of a whole number (Hyyrö 2004, "Bit-parallel LCS-length computation revisited").
    """
    masks: dict[Hashable, int] = {}
    for place, item in enumerate(one):
        masks[item] = masks.get(item, 0) | 1 << place
    full = (1 << len(one)) - 1
    row = full
    for item in other:
        matches = row & masks.get(item, 0)
        row = (row + matches | row - matches) & full
    return len(one) - row.bit_count()
