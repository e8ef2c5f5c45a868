"""Real plans of the scenarios, made once, and small ones made up for a single promise."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any

from models.plan import Finish, Plan, Row
from scheduler.planning import Planned, plan_folder

ROOT = Path(__file__).parents[3]
NAMES = ("team-shirts", "two-presses", "fair-weekend", "mixed-peels", "celsius-studio")
FILES = {"timetable.csv", "finish.csv", "plan.json", "timeline.html"}
EIGHT = datetime(2026, 12, 1, 8)


@cache
def planned(name: str) -> Planned:
    """The scenario's day, its quick plan and its rows."""
    return plan_folder(ROOT / "scenarios" / name, effort="quick")


def at(minutes: float) -> datetime:
    """So many minutes after eight."""
    return EIGHT + timedelta(minutes=minutes)


def row(start: float, end: float, what: str, loading: int | None = None, **other: Any) -> Row:
    """A row in minutes after eight on the press "window", of order G1, line 1, front, its first operation."""
    if what == "change":
        known: dict[str, Any] = {"press": "window", "temperature": 300, "pressure": "medium"}
    else:
        known = {
            "press": "window",
            "loading": loading,
            "pieces": (f"G1-1-{loading:03d}",),
            "order": "G1",
            "line": "1",
            "placement": "front",
            "operation": 1,
            "temperature": 300,
            "pressure": "medium",
        }
    return Row(at(start), at(end), what, **(known | other))  # type: ignore[arg-type]


def loading(number: int, start: float, **other: Any) -> list[Row]:
    """Load, align, dwell of a quarter of a minute and unload of one piece, in one minute from `start`."""
    return [
        row(start, start + 0.25, "load", number, person="ada", **other),
        row(start + 0.25, start + 0.5, "align", number, person="ada", **({"layers": (1,)} | other)),
        row(start + 0.5, start + 0.75, "dwell", number, **({"layers": (1,)} | other)),
        row(start + 0.75, start + 1, "unload", number, person="ben", **other),
    ]


def finish(order: str, customer: str = "", slack_min: float | None = None, **other: Any) -> Finish:
    """An order done at nine."""
    known: dict[str, Any] = {
        "order": order,
        "customer": customer,
        "pieces": 3,
        "ready": None,
        "due": None if slack_min is None else at(60 + slack_min),
        "finish": at(60),
        "late_min": None if slack_min is None else max(0.0, -slack_min),
        "slack_min": slack_min,
    }
    return Finish(**(known | other))


def with_orders(plan: Plan, orders: Sequence[Finish]) -> Plan:
    """The plan with other orders."""
    return plan.model_copy(update={"orders": tuple(orders)})
