"""FIGURES.md: the measured figures as tables."""

from __future__ import annotations

import string
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

from tests.bench.targets import targets

Figures = dict[str, Any]

_HEAD = """# Measured figures

Written by `python -m tests.bench.run`. Days are generated (tests/bench/days.py) from ordinary film settings, which are
never truth: the film maker's and the garment maker's data sheets decide. Each run is a process of its own with two
solver workers and planned by the clock given. Where a plan was made several times the run in the middle is shown, by
late minutes and then work, and beside it the work of all. Late minutes are weighted by priority; minutes of finish
count from the start of the first day and run on overnight. Habit: orders by due time, each on the press that is free
first, in the middle of its window. PyJobShop: the same bundles in the same seconds, started from a schedule in order of
due times, its answer played by the same dispatch with the best settings for it.
"""


def write_figures(path: Path, done: Sequence[Figures]) -> None:
    """Write the tables of all runs."""
    letters = _letters(done)
    plans = ([*_plan(found), letters[_machine(found)]] for found in done)
    parts = [_HEAD, _machines(done), "## Plans", _table(_PLAN, plans)]
    parts += ["## Beside the habit and a library", _table(_BESIDE, map(_beside, done))]
    parts += ["## What is asked of them", _table(_ASKED, (row for found in done for row in _asked(found)))]
    path.write_text("\n\n".join(parts) + "\n", encoding="utf-8")


_PLAN = (
    "day", "seed", "pieces", "orders", "bundles, jobs", "effort", "clock s", "first plan s", "last gain s", "in all s",
    "MB", "late min (seed's)", "late bound", "finish min", "changes", "change min", "peel wait", "work min",
    "work of all runs", "bound", "gap", "findings", "load", "machine",
)  # fmt: skip
_BESIDE = ("day", "seed", "", "late min", "finish min", "changes", "work min", "findings", "note")
_ASKED = ("day", "seed", "asked", "came", "")


def _machine(found: Figures) -> str:
    return (
        f"{found['cpu']}, {found['cores']} cores shared with other work (load beside each run), "
        f"Python {found['python']}, OR-Tools {found['ortools']}, {found['date']}."
    )


def _letters(done: Sequence[Figures]) -> dict[str, str]:
    """A letter for each machine and date."""
    machines = dict.fromkeys(_machine(found) for found in done)
    return dict(zip(machines, string.ascii_uppercase, strict=False))


def _machines(done: Sequence[Figures]) -> str:
    return "\n".join(f"- {letter}: {machine}" for machine, letter in _letters(done).items())


def _plan(found: Figures) -> list[str]:
    plan = found["plan"]
    begins = [found["day"], str(found["seed"])]
    if "failed" in plan:
        return [*begins, *plan["failed"]]
    return [
        *begins,
        str(plan["pieces"]),
        str(plan["orders"]),
        ", ".join(map(str, plan["tasks"])),
        found["effort"],
        f"{found['seconds']:g}",
        f"{plan['first_s']:.1f}",
        f"{plan['last_gain_s']:.1f}",
        f"{plan['all_s']:.1f}",
        f"{plan['memory_mb']:.0f}",
        f"{plan['late_min']:.0f} ({plan['seed_late']:.0f})",
        f"{plan['late_bound']:.0f}",
        f"{plan['finish_min']:.0f}",
        str(plan["changes"]),
        f"{plan['change_min']:.0f}",
        f"{plan['peel_wait_min']:.0f}",
        f"{plan['work_min']:.0f}",
        ", ".join(f"{work:.0f}" for _, work in plan.get("runs", [])) or "–",
        f"{plan['work_bound']:.0f}",
        f"{plan['gap']:.1%}",
        str(plan["findings"]),
        str(found["load"]),
    ]


def _beside(found: Figures) -> list[str]:
    """One cell a column; the three answers stand under each other in it."""
    rows = [("plan", found["plan"]), ("habit", found.get("habit")), ("PyJobShop", found.get("outside"))]
    shown = [(name, answer) for name, answer in rows if answer]
    cells = [[name, *_figures(answer), _note(answer)] for name, answer in shown]
    return [found["day"], str(found["seed"]), *("<br>".join(column) for column in zip(*cells, strict=True))]


def _figures(answer: Figures) -> list[str]:
    if "changes" not in answer:
        return ["–"] * 5
    return [
        f"{answer['late_min']:.0f}",
        f"{answer['finish_min']:.0f}",
        str(answer["changes"]),
        f"{answer['work_min']:.0f}",
        str(answer["findings"]),
    ]


def _note(answer: Figures) -> str:
    if "failed" in answer:
        return " ".join(answer["failed"])
    if "status" in answer and "solve_s" in answer:
        return f"{answer['status']}, {answer['build_s']:.0f} + {answer['solve_s']:.0f} s"
    return f"{answer['unplaced']} not placed" if answer.get("unplaced") else " "


def _asked(found: Figures) -> list[list[str]]:
    return [
        [found["day"], str(found["seed"]), t.asked, t.came, "met" if t.met else "**missed**"] for t in targets(found)
    ]


def _table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    lines = ["| " + " | ".join(head) + " |", "|" + "---|" * len(head)]
    lines += ["| " + " | ".join([*row, *[" "] * (len(head) - len(row))]) + " |" for row in rows]
    return "\n".join(lines)
