"""What the long checks come to, counted and written to FIGURES.md: `python -m tests.reference.figures [PART ...]`.

Each part is counted anew by running the same checks as the tests do, and kept in figures.json, so that parts can be
run apart; a part whose figures are not as they should be says so in its row and ends the run with an error.
"""

from __future__ import annotations

import fcntl
import json
import os
import platform
import random
import sys
import time
from collections import Counter
from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from hypothesis import given, settings

from models.day import Day
from models.plan import GoalFigures
from models.problem import BadInput, NoPlan
from scheduler.audit import audit_rows
from scheduler.planning import plan_day
from tests.reference.days import flexible_shop, job_shop, machines, shop_instance, wt40
from tests.reference.little import Everything, drawn, library

HERE = Path(__file__).parent
HELD, TABLE = HERE / "figures.json", HERE / "FIGURES.md"
TENTH = 0.6  # seconds that minutes to the hundredth may lose

Row = list[Any]


def random_days() -> Iterator[Row]:
    """Plans of days drawn by chance, audited; and legal days of all sorts, judged twice."""
    from tests.scheduler.days import random_day
    from tests.scheduler.test_any_day import days, judge

    said: Counter[str] = Counter()
    for seed in range(60):
        made = random_day(seed)
        try:
            planned = plan_day(made, "quick")
        except (NoPlan, BadInput) as why:
            said[type(why).__name__] += 1
        else:
            said["with findings" if audit_rows(made, planned.rows) else "sound"] += 1
    yield ["days of three presses and people, quick", sum(said.values()), _told(said), said["with findings"] == 0]
    said = Counter()

    @settings(max_examples=600, deadline=None, derandomize=True, database=None)
    @given(days())
    def judged(made: Day) -> None:
        said[judge(made)] += 1

    judged()
    yield ["any legal day: a sound plan or a true reason", sum(said.values()), _told(said), True]


def little_days() -> Iterator[Row]:
    """Plans and bounds against every press and order, and PyJobShop's optimum where it is installed."""
    from tests.reference.test_second_opinion import ALIKE, HARDER, NOT_FOUND, little_day

    said: Counter[str] = Counter()
    for seed in range(80):
        little = little_day(seed)
        best = Everything(little).best()
        goals = plan_day(little.day(), "thorough" if seed in HARDER else "normal").plan.goals
        said["bounds above the optimum"] += _above(goals, *best)
        reached = abs(60 * goals.late_min - best[0]) < TENTH and abs(60 * goals.work_min - best[1]) < TENTH
        said["optimum reached" if reached else "as little late" if _on_time(goals, best) else "later"] += 1
    good = said["bounds above the optimum"] == 0 and said["optimum reached"] == 80 - len(NOT_FOUND)
    yield ["up to seven bundles, every press and order tried", 80, _told(said), good]
    said = Counter()
    for number in range(200, 200 + len(ALIKE)):
        little = drawn(random.Random(number), alike=True)
        best = Everything(little).best()
        said["PyJobShop agrees" if _library(little) == best else "PyJobShop differs"] += 1
    yield ["presses alike, PyJobShop's optimum", len(ALIKE), _told(said), said["PyJobShop differs"] == 0]


def _on_time(goals: GoalFigures, best: tuple[float, float]) -> bool:
    return abs(60 * goals.late_min - best[0]) < TENTH


def _above(goals: GoalFigures, late: float, work: float) -> bool:
    return 60 * goals.late_bound > late + TENTH or 60 * goals.work_bound > work + TENTH


def _library(little: Any) -> tuple[float, float] | None:
    best, proven = library(little, 60)
    return best if proven else None


def laws() -> Iterator[Row]:
    """Days written differently or with more."""
    from tests.scheduler import test_laws as room
    from tests.scheduler.laws import MORE, SAME

    for change in (*SAME, *MORE):
        kept = 0
        for seed in range(25):
            try:
                (room.same if change in SAME else room.more)(change, seed)
                kept += 1
            except AssertionError:
                pass
            room.planned.cache_clear() if seed % 25 == 24 else None
        yield [f"law: {change}", 25, f"{kept} kept", kept == 25]


def audits() -> Iterator[Row]:
    """Mutations of timetables caught under their own rule; good timetables; ways with fewer closings."""
    from tests.scheduler.audit import test_fewest, test_real_plans, test_wrong
    from tests.scheduler.audit.cases import GOOD

    clean = sum(not audit_rows(*case()) for case in GOOD.values())
    yield ["good timetables written by hand", len(GOOD), f"{clean} without a finding", clean == len(GOOD)]
    caught, rules = 0, set()
    for case, _, spoil, rule in test_wrong.WRONG:
        day, rows = GOOD[case]()
        found = {finding.rule for finding in audit_rows(day, spoil(rows))}
        caught += rule in found
        rules.add(rule)
    total = len(test_wrong.WRONG)
    yield ["mutations of those", total, f"{caught} caught and named rightly, {len(rules)} rules", caught == total]
    caught = total = 0
    for name in test_real_plans.NAMES:
        plan = test_real_plans.planned(name)
        for spoil, rule in test_real_plans.SPOILED.values():
            total += 1
            caught += bool({f.rule for f in audit_rows(plan.day, spoil(plan.rows))} & set(rule.split(" or ")))
    yield ["mutations of the scenarios' plans", total, f"{caught} caught and named rightly", caught == total]
    yield from _fewest(test_fewest)


def _fewest(room: Any) -> Iterator[Row]:
    said: Counter[str] = Counter()
    for seed in range(1000):
        made = room.drawn(seed)
        for steps in list(room.routes(made))[:1]:
            for at in dict.fromkeys(step[0] for step in steps):
                said["fewest" if room.search(made, steps, at) is None else "accused wrongly"] += 1
            for at, longer in room.split(made, steps):
                said["too many found" if room.search(made, longer, at) else "too many missed"] += 1
    good = not said["accused wrongly"] and not said["too many missed"]
    yield ["drawn placements, the auditor's own grouping", sum(said.values()), _told(said), good]


def malformed() -> Iterator[Row]:
    """Folders that are wrong, through the command."""
    from tests.scheduler.test_broken_folders import ALL, laid, refused

    with TemporaryDirectory() as place:
        wrong = [what for n, (what, files) in enumerate(ALL.items()) if refused(laid(Path(place) / str(n), files))]
    yield ["malformed folders", len(ALL), f"{len(ALL) - len(wrong)} refused with place and reason", not wrong]


def instances() -> Iterator[Row]:
    """Published instances through the whole road: optimum, ours, bound, seconds."""
    for name, effort in (
        *(("ft06", "normal"), ("la01", "quick"), ("la02", "normal")),
        *(("la06", "quick"), ("la11", "thorough"), ("ft10", "normal")),
    ):
        machine, minutes, optimum = shop_instance(name)
        yield _instance(name, effort, job_shop(machine, minutes), optimum, lambda g: (g.work_min, g.work_bound))
    for jobs, count, optimum in (([4, 5, 6, 7, 8], 2, 15), ([5, 5, 4, 4, 3, 3, 3], 3, 9)):
        day = machines([60 * p for p in jobs], count)
        yield _instance(f"Graham, {count} machines", "normal", day, optimum, lambda g: (g.work_min, g.work_bound))
    johnson = [(4, 2), (3, 5), (5, 1), (7, 3), (8, 6)]
    day = job_shop([(0, 1)] * 5, johnson)
    yield _instance("Johnson, flow shop", "normal", day, 28, lambda g: (g.work_min, g.work_bound))
    from tests.reference.test_flexible_shop import MINUTES, choices
    from tests.reference.test_flexible_shop import library as proven

    for every in (2, 3):
        day = flexible_shop(choices(every), MINUTES, 6)
        name = f"ft06 made flexible, every {every}. step"
        yield _instance(name, "normal", day, proven(choices(every), MINUTES), lambda g: (g.work_min, g.work_bound))


def tardiness() -> Iterator[Row]:
    """OR-Library's wt40 of 40 jobs: the quick to prove ones and some that are not."""
    for number in (26, 27, 28, 29, 30, 51, 76, 82, 1, 42, 96):
        each = wt40()[number - 1]
        effort = "quick" if number in (1, 42, 96) else "thorough"
        yield _instance(
            f"wt40 no. {number}",
            effort,
            each.day(),
            each.value,
            lambda g: (round(60 * g.late_min), round(60 * g.late_bound)),
        )


def _instance(
    name: str, effort: str, day: Day, optimum: float, read: Callable[[GoalFigures], tuple[float, float]]
) -> Row:
    began = time.monotonic()
    planned = plan_day(day, effort)  # type: ignore[arg-type]
    seconds = time.monotonic() - began
    ours, bound = read(planned.plan.goals)
    good = bound <= optimum + 0.01 and ours >= optimum - 0.01 and not audit_rows(day, planned.rows)
    return [name, effort, optimum, ours, bound, round(seconds, 1), good]


PARTS: dict[str, Callable[[], Iterator[Row]]] = {
    part.__name__: part for part in (random_days, little_days, laws, audits, malformed, instances, tardiness)
}
LISTS = ("instances", "tardiness")


def _told(said: Counter[str]) -> str:
    return ", ".join(f"{count} {what}" for what, count in sorted(said.items()) if count)


def machine() -> str:
    """What ran it, and when."""
    from ortools import __version__ as ortools

    cpu = next(
        (line.split(":")[1].strip() for line in Path("/proc/cpuinfo").read_text().splitlines() if "model name" in line),
        platform.machine(),
    )
    return f"{cpu}, {os.cpu_count()} cores, Python {platform.python_version()}, OR-Tools {ortools}, {date.today()}"


def keep(part: str, found: dict[str, Any]) -> dict[str, Any]:
    """The part's figures put among the others, of which several may be counted at once."""
    with HELD.open("a+", encoding="utf-8") as stream:
        fcntl.flock(stream, fcntl.LOCK_EX)
        stream.seek(0)
        held: dict[str, Any] = json.loads(stream.read() or "{}")
        held[part] = found
        stream.seek(0)
        stream.truncate()
        stream.write(json.dumps(held, indent=1) + "\n")
    return held


def write(held: dict[str, Any]) -> None:
    """FIGURES.md from all parts."""
    lines = [
        "# What the long checks came to",
        "",
        "Written by `python -m tests.reference.figures`, not by hand. The checks are those of the tests marked",
        "`thorough`; what each one checks, and where its figures come from, stands in README.md here.",
        "",
        "Late days and dearer days below are days on which the plan is not the best there is, as trying everything",
        "shows; they are listed one by one, as known failures, in `test_second_opinion.py`.",
        "",
        "| part | check | tried | came | as it should be | seconds |",
        "|---|---|---|---|---|---|",
    ]
    for part in (p for p in PARTS if p in held and p not in LISTS):
        for n, row in enumerate(held[part]["rows"]):
            seconds = held[part]["seconds"] if n == 0 else ""
            lines.append(f"| {part.replace('_', ' ')} | {row[0]} | {row[1]} | {row[2]} | {_yes(row[3])} | {seconds} |")
    lines += [
        "",
        "## Published instances, through the whole road",
        "",
        "Job shops, machines and flow shops in time units of a minute, wt40 in units of a second. `sound`: the bound",
        "is at most the optimum, the plan at least, and the plan's audit has no finding.",
        "",
        "| instance | effort | optimum | ours | bound | gap to optimum | seconds | sound |",
        "|---|---|---|---|---|---|---|---|",
    ]
    for part in (p for p in LISTS if p in held):
        for name, effort, optimum, ours, bound, seconds, good in held[part]["rows"]:
            gap = f"{(ours - optimum) / optimum:.1%}" if optimum else "" if ours else "0.0%"
            lines.append(f"| {name} | {effort} | {optimum} | {ours:g} | {bound:g} | {gap} | {seconds} | {_yes(good)} |")
    told = dict.fromkeys(held[part]["machine"] for part in held)
    lines += ["", *(f"{one}; shared with other work while it ran." for one in told), ""]
    TABLE.write_text("\n".join(lines), encoding="utf-8")


def _yes(good: bool) -> str:
    return "yes" if good else "**no**"


def main(parts: list[str]) -> int:
    """Count the parts named, or all; 1 where one is not as it should be."""
    bad = 0
    for part in parts or list(PARTS):
        began = time.monotonic()
        rows = []
        for row in PARTS[part]():
            rows.append(row)
            print(part, *row, flush=True)
        seconds = round(time.monotonic() - began)
        write(keep(part, {"rows": rows, "seconds": seconds, "machine": machine()}))
        bad += sum(not row[-1] for row in rows)
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
