"""What an audit finds, and how many of its findings are told."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

MOST = 200  # findings told at once; beyond that a closing one counts the rest
LONGEST = 500  # characters of a finding's message


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
        return [_safe(finding) for finding in findings]
    seen: Counter[str] = Counter()
    turn: list[tuple[int, int]] = []
    for place, finding in enumerate(findings):
        turn.append((seen[finding.rule], place))
        seen[finding.rule] += 1
    told = sorted(place for _, place in sorted(turn)[:MOST])
    rest = len(findings) - MOST
    return [*(_safe(findings[p]) for p in told), Finding("more", "plan", f"{rest} more findings are not listed here")]


def _safe(finding: Finding) -> Finding:
    """With nothing in it that a terminal would act on, and no longer than can be read."""
    return Finding(finding.rule, _plain(finding.where), _plain(finding.message))


def _plain(text: str) -> str:
    cut = text if len(text) <= LONGEST else f"{text[:LONGEST]}…"
    return cut if cut.isprintable() else "".join(ch if ch.isprintable() else "�" for ch in cut)
