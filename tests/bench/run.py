"""Measure plans on generated days, beside the shop's habit and a general-purpose library, and write FIGURES.md.

`python -m tests.bench.run [--days d250 d500 ...] [--seconds S] [--seeds N]`. Every run is a process of its own, so that
its peak memory is its own. Every answer is audited. Run by hand: nothing here is a test.
"""

from __future__ import annotations

import argparse
import json
import os
import resource
import subprocess
import sys
import time
from pathlib import Path
from typing import Any

from tests.bench.figures import write_figures
from tests.bench.targets import SECONDS

ROOT = Path(__file__).resolve().parents[2]
FIGURES = Path(__file__).with_name("FIGURES.md")
RAW = Path(__file__).with_name("figures.json")

Figures = dict[str, Any]


def main() -> None:
    """Run what was asked for, one process at a time, and write the tables anew after each."""
    asked = _arguments()
    if asked.child:
        print(json.dumps(CHILDREN[asked.child](asked.days[0], asked.seed, asked.seconds or 0.0, asked.effort)))
        return
    done: list[Figures] = json.loads(RAW.read_text()) if asked.add and RAW.exists() else []
    for day in asked.days:
        seconds = asked.seconds or SECONDS.get(day, 20.0)
        for seed in range(asked.seed, asked.seed + asked.seeds):
            found = _case(day, seed, seconds, asked)
            done = [f for f in done if (f["day"], f["seed"]) != (day, seed)] + [found]
            done.sort(key=lambda f: (len(f["day"]), f["day"], f["seed"]))
            RAW.write_text(json.dumps(done, indent=1) + "\n", encoding="utf-8")
            write_figures(FIGURES, done)


def _arguments() -> argparse.Namespace:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--days", nargs="+", default=list(SECONDS), help="named days of tests/bench/days.py")
    parser.add_argument("--seconds", type=float, help="clock of each run; left out: the day's own")
    parser.add_argument("--seeds", type=int, default=2, help="how many seeds of each day")
    parser.add_argument("--seed", type=int, default=0, help="the first seed")
    parser.add_argument("--runs", type=int, default=3, help="how often each plan is made; the middle one is shown")
    parser.add_argument("--effort", default="normal", help="quick, normal or thorough")
    parser.add_argument("--skip", nargs="*", default=[], help="of: habit, outside, command")
    parser.add_argument("--add", action="store_true", help="keep the figures of earlier runs")
    parser.add_argument("--child", help=argparse.SUPPRESS)
    return parser.parse_args()


def _case(day: str, seed: int, seconds: float, asked: argparse.Namespace) -> Figures:
    found: Figures = {"day": day, "seed": seed, "seconds": seconds, "effort": asked.effort, **_machine()}
    for child in CHILDREN:
        if child in asked.skip or (child == "command" and day != "d250"):
            continue
        runs = asked.runs if child == "plan" else 1
        found[child] = _middle([_process(child, day, seed, seconds, asked.effort) for _ in range(runs)])
        print(day, seed, child, found[child], flush=True)
    return found


def _middle(answers: list[Figures]) -> Figures:
    """The run in the middle by its late time and work, for runs by the clock differ; with those, and the findings, of
    all."""
    if any("failed" in answer for answer in answers) or len(answers) == 1:
        return next((answer for answer in answers if "failed" in answer), answers[0])
    ranked = sorted(answers, key=lambda a: (a["late_min"], a["work_min"]))
    findings = sum(a["findings"] for a in ranked)
    runs = [[a["late_min"], a["work_min"]] for a in ranked]
    return {**ranked[len(ranked) // 2], "findings": findings, "runs": runs}


def _process(child: str, day: str, seed: int, seconds: float, effort: str) -> Figures:
    command = [sys.executable, "-m", "tests.bench.run", "--child", child, "--days", day, "--seed", str(seed)]
    command += ["--seconds", str(seconds), "--effort", effort]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    if done.returncode:
        return {"failed": done.stderr.strip().splitlines()[-1:] or [f"exit code {done.returncode}"]}
    answer: Figures = json.loads(done.stdout.strip().splitlines()[-1])
    return answer


def _machine() -> Figures:
    import platform
    from importlib.metadata import version

    model = ""
    cpus = Path("/proc/cpuinfo")
    if cpus.exists():
        names = [
            line.split(":", 1)[1].strip() for line in cpus.read_text().splitlines() if line.startswith("model name")
        ]
        model = names[0] if names else ""
    return {
        "cpu": model or platform.processor(),
        "cores": os.cpu_count(),
        "python": platform.python_version(),
        "ortools": version("ortools"),
        "date": time.strftime("%Y-%m-%d"),
        "load": round(os.getloadavg()[0], 1),
    }


def _memory() -> float:
    """This process's peak memory and that of the largest it began, MB."""
    peaks = (resource.getrusage(who).ru_maxrss for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN))
    return round(sum(peaks) / 1024, 0)


def plan(name: str, seed: int, seconds: float, effort: str) -> Figures:
    """A plan as `pressday plan --seconds` makes it, with its audit."""
    from scheduler.audit import audit_rows
    from scheduler.planning import plan_day
    from scheduler.solving.efforts import EFFORTS
    from tests.bench.days import named
    from tests.bench.least import hand_bound

    day = named(name, seed).day
    told: list[tuple[str, float, float, int]] = []
    began = time.monotonic()
    planned = plan_day(
        day,
        effort,  # type: ignore[arg-type]
        seconds,
        0,
        lambda stage, table: told.append((stage, time.monotonic() - began, table.late / 60, table.change_count)),
    )
    took = time.monotonic() - began
    goals = planned.plan.goals
    return {
        "pieces": sum(line.quantity for line in day.lines),
        "orders": len(day.orders),
        "tasks": _jobs(day, EFFORTS[effort].jobs),  # type: ignore[index]
        "first_s": round(told[0][1], 2),
        "all_s": round(took, 1),
        "memory_mb": _memory(),
        "seed_late": round(told[0][2], 1),
        "last_gain_s": round(told[-1][1], 1),
        **goals.model_dump(),
        "finish_min": day.seconds(planned.plan.finish) / 60,
        "hand_bound_min": hand_bound(day, planned.rows) / 60,
        "findings": len(audit_rows(day, planned.rows)),
    }


def _jobs(day: Any, most: int) -> list[int]:
    """Bundles and jobs at the effort's grain, of the chains tried first."""
    from scheduler.solving.bundles import cut

    work = cut(_instance(day), most)
    return [len(work.bundles), len(work.jobs)]


def _instance(day: Any) -> Any:
    from scheduler.breakdown import break_down, check_fits
    from scheduler.instance import Instance
    from scheduler.solving.chains import default_chains

    return Instance(day, default_chains(day, check_fits(day, break_down(day))))


def habit(name: str, seed: int, seconds: float, effort: str) -> Figures:
    """The shop's habit on the same day."""
    from scheduler.comparing.habit import habit as by_habit
    from tests.bench.days import named

    day = named(name, seed).day
    instance = _instance(day)
    return _played(day, instance, by_habit(instance))


def outside(name: str, seed: int, seconds: float, effort: str) -> Figures:
    """PyJobShop's answer to the same bundles in the same seconds."""
    from scheduler.solving.efforts import EFFORTS
    from tests.bench.days import named
    from tests.bench.outside import outside as by_library

    day = named(name, seed).day
    instance = _instance(day)
    answer = by_library(instance, EFFORTS[effort].jobs, seconds)  # type: ignore[index]
    went = {"status": answer.status, "build_s": round(answer.build_s, 1), "solve_s": round(answer.solve_s, 1)}
    return went | _played(day, instance, answer.table)


def _played(day: Any, instance: Any, table: Any) -> Figures:
    from scheduler.audit import audit_rows
    from scheduler.timetable.rows import rows_of

    return {
        "late_min": round(table.late / 60, 1),
        "work_min": round(table.work / 60, 1),
        "finish_min": table.finish / 60,
        "changes": table.change_count,
        "unplaced": table.unplaced,
        "findings": len(audit_rows(day, rows_of(instance, table))),
        "memory_mb": _memory(),
    }


def command(name: str, seed: int, seconds: float, effort: str) -> Figures:
    """The whole command at quick effort, start of the process to written files, audit included."""
    import tempfile

    from tests.bench.days import named

    with tempfile.TemporaryDirectory() as place:
        folder = Path(place) / name
        named(name, seed).write(folder)
        began = time.monotonic()
        run = [sys.executable, "-m", "scheduler.cli", "plan", str(folder), "--effort", "quick", "--json"]
        done = subprocess.run(run, cwd=ROOT, capture_output=True, text=True, check=False)
        took = time.monotonic() - began
        files = sorted(p.name for p in (folder / "plan").glob("*"))
    return {"quick_s": round(took, 2), "code": done.returncode, "files": files}


CHILDREN = {"plan": plan, "habit": habit, "outside": outside, "command": command}

if __name__ == "__main__":
    main()
