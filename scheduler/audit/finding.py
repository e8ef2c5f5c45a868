"""What an audit finds, and how many of its findings are told."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

MOST = 200  # findings told at once; beyond that a closing one counts the rest


@dataclass(frozen=True, slots=True)
class Finding:
    """One breach of a rule: its short stable name, where it stands, and the numbers found and right."""

    rule: str
    where: str
    message: str

    def __str__(self) -> str:
        return f"{self.where}: {self.message} [{self.rule}]"


def capped(findings: Sequence[Finding]) -> list[Finding]:
    """At most MOST findings and one that counts the rest; no rule crowds out another."""
    if len(findings) <= MOST:
        return list(findings)
    seen: Counter[str] = Counter()
    turn: list[tuple[int, int]] = []
    for place, finding in enumerate(findings):
        turn.append((seen[finding.rule], place))
        seen[finding.rule] += 1
    told = sorted(place for _, place in sorted(turn)[:MOST])
    rest = len(findings) - MOST
    return [*(findings[p] for p in told), Finding("more", "plan", f"{rest} more findings are not listed here")]
