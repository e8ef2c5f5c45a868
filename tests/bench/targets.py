"""What is asked of plans on the named days, each as a name, a limit and what was measured."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

SECONDS = {"d250": 10.0, "d500": 15.0, "d1200": 60.0, "d5000": 120.0}  # the clock a named day is planned by
FIRST = {"d250": 1.0, "d500": 1.0, "d1200": 3.0, "d5000": 15.0}
GAP = {"d250": 0.02, "d1200": 0.04, "d5000": 0.08}
FEWER, MEMORY_MB, HAND_SHARE, QUICK_S = 0.6, 2048, 0.05, 3.0


@dataclass(frozen=True)
class Target:
    """One thing asked, what came, and whether it was met."""

    asked: str
    came: str
    met: bool


def targets(found: dict[str, Any]) -> Iterator[Target]:
    """What was asked of this run."""
    day, plan = found["day"], found["plan"]
    if "failed" in plan:
        yield Target("a plan", "; ".join(plan["failed"]), False)
        return
    if day in FIRST:
        yield Target(f"first plan in {FIRST[day]:g} s", f"{plan['first_s']:.1f} s", plan["first_s"] <= FIRST[day])
    if day in GAP:
        yield Target(f"work gap at most {GAP[day]:.0%}", f"{plan['gap']:.1%}", plan["gap"] <= GAP[day])
    if day == "d500":
        over = plan["finish_min"] / plan["hand_bound_min"] - 1
        yield Target(f"finish within {HAND_SHARE:.0%} of the hand-work bound", f"{over:.1%}", over <= HAND_SHARE)
    if day == "d1200":
        yield _late(plan)
    if day == "d5000":
        yield Target("memory under 2 GB", f"{plan['memory_mb']:.0f} MB", plan["memory_mb"] < MEMORY_MB)
    yield Target("no finding of the audit", str(plan["findings"]), plan["findings"] == 0)
    yield from _changes(found)
    if "command" in found:
        quick = found["command"]
        came = f"{quick['quick_s']:.1f} s" if not quick["code"] else f"exit code {quick['code']}"
        yield Target("quick effort under 3 s in all", came, not quick["code"] and quick["quick_s"] < QUICK_S)


def _late(plan: dict[str, Any]) -> Target:
    late, seed, bound = plan["late_min"], plan["seed_late"], plan["late_bound"]
    came = f"{late:.0f} of {seed:.0f} min, bound {bound:.0f}"
    return Target(
        "late no more than half of the seed's, or proven least", came, late <= seed / 2 or late - bound < 0.01
    )


def _changes(found: dict[str, Any]) -> Iterator[Target]:
    mine, habit, outside = found["plan"]["changes"], found.get("habit", {}), found.get("outside", {})
    if "changes" in habit:
        limit = (1 - FEWER) * habit["changes"]
        yield Target("changes at least 60 % fewer than by habit", f"{mine} for {habit['changes']}", mine <= limit)
    if "changes" in outside:
        came = f"{mine} for {outside['changes']}"
        yield Target("no more changes than PyJobShop's day", came, mine <= outside["changes"])
