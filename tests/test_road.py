"""The whole road by the command line: a folder in, a plan out, and the exit codes of contract section 8."""

from __future__ import annotations

import hashlib
import json
import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.scenarios.folders import NAMES, SCENARIOS

ROOT = Path(__file__).parents[1]
FILES = {"timetable.csv", "finish.csv", "plan.json", "timeline.html"}
HEAVY = ("pandas", "ortools", "plotly", "shapely", "openpyxl", "models")


def run(*words: str | Path) -> subprocess.CompletedProcess[str]:
    """`pressday` with these words, as a person would call it."""
    return subprocess.run(
        [sys.executable, "-m", "scheduler.cli", *map(str, words)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        encoding="utf-8",
        env={**os.environ, "PYTHONIOENCODING": "utf-8"},
        check=False,
    )


def copy(name: str, to: Path) -> Path:
    """A scenario's own files, without a plan."""
    shutil.copytree(SCENARIOS / name, to / name, ignore=shutil.ignore_patterns("plan*"))
    return to / name


def prints(folder: Path) -> dict[str, str]:
    """Every file of a plan and its sha256."""
    return {p.name: hashlib.sha256(p.read_bytes()).hexdigest() for p in (folder / "plan").iterdir()}


def change(folder: Path, file: str, old: str, new: str) -> None:
    """Put something else into one of the files."""
    text = (folder / file).read_text(encoding="utf-8")
    assert old in text
    (folder / file).write_text(text.replace(old, new, 1), encoding="utf-8")


@pytest.fixture(scope="module")
def planned(tmp_path_factory: pytest.TempPathFactory) -> Callable[[str], Path]:
    """Scenario folders with a quick plan in them, planned once; not to be changed."""
    made: dict[str, Path] = {}

    def folder(name: str) -> Path:
        if name not in made:
            made[name] = copy(name, tmp_path_factory.mktemp("planned"))
            done = run("plan", made[name], "--effort", "quick")
            assert done.returncode == 0, done.stderr
        return made[name]

    return folder


@pytest.mark.parametrize("name", NAMES)
def test_a_scenario_is_planned_and_stands_before_the_audit(planned: Callable[[str], Path], name: str) -> None:
    """plan exits 0 and leaves the four files; audit finds nothing and exits 0."""
    folder = planned(name)
    assert {p.name for p in (folder / "plan").iterdir()} >= FILES
    audited = run("audit", folder)
    assert audited.returncode == 0, audited.stdout
    assert "finding" in audited.stdout.lower()


def test_check_reads_a_folder_back(tmp_path: Path) -> None:
    """check exits 0, says something and writes nothing."""
    folder = copy("team-shirts", tmp_path)
    before = sorted(p.name for p in folder.iterdir())
    done = run("check", folder)
    assert done.returncode == 0 and done.stdout.strip()
    assert sorted(p.name for p in folder.iterdir()) == before


def test_a_new_folder_can_be_planned_at_once(tmp_path: Path) -> None:
    """What `new` writes is sound: check, plan and audit exit 0."""
    folder = tmp_path / "mine"
    assert run("new", folder).returncode == 0
    assert run("check", folder).returncode == 0
    done = run("plan", folder, "--effort", "quick")
    assert done.returncode == 0, done.stderr
    assert run("audit", folder).returncode == 0


def test_new_does_not_write_over_anything(planned: Callable[[str], Path]) -> None:
    """A folder that is there already keeps its files."""
    folder = planned("two-presses")
    before = {p.name: p.read_bytes() for p in folder.iterdir() if p.is_file()}
    assert run("new", folder).returncode == 1
    assert {p.name: p.read_bytes() for p in folder.iterdir() if p.is_file()} == before


def test_wrong_input_exits_1_and_leaves_the_old_plan(planned: Callable[[str], Path], tmp_path: Path) -> None:
    """Every problem is told with its file and field; the plan that was there is untouched, byte by byte."""
    folder = tmp_path / "wrong"
    shutil.copytree(planned("two-presses"), folder)
    before = prints(folder)
    change(folder, "orders.csv", "\n", ",colour\n")
    change(folder, "shop.toml", "platen", "plate")
    done = run("plan", folder, "--effort", "quick")
    assert done.returncode == 1
    assert "orders.csv" in done.stderr and "colour" in done.stderr
    assert "shop.toml" in done.stderr and "plate" in done.stderr
    assert prints(folder) == before


def test_wrong_input_is_told_as_json(tmp_path: Path) -> None:
    """The same problems for a machine: file, where, field, value, what is wrong and what would be right."""
    folder = copy("two-presses", tmp_path)
    change(folder, "shop.toml", "platen", "plate")
    done = run("check", folder, "--json")
    assert done.returncode == 1
    answer = json.loads(done.stdout)
    assert answer["sound"] is False and answer["problems"]
    for problem in answer["problems"]:
        assert set(problem) == {"file", "where", "field", "value", "wrong", "right"}
        assert problem["wrong"]


def test_a_film_hotter_than_every_press_has_no_plan(tmp_path: Path) -> None:
    """The reason names the film and the press's range; nothing is written."""
    folder = tmp_path / "hot"
    assert run("new", folder).returncode == 0
    text = (folder / "catalog.toml").read_text(encoding="utf-8")
    film = next(line for line in text.splitlines() if line.startswith("temperature"))
    (folder / "catalog.toml").write_text(text.replace(film, "temperature = [700, 710]"), encoding="utf-8")
    done = run("plan", folder, "--effort", "quick")
    assert done.returncode in (1, 3)
    assert "700" in done.stderr
    assert not (folder / "plan").exists()


def test_an_order_that_two_weeks_do_not_hold_has_no_plan(planned: Callable[[str], Path], tmp_path: Path) -> None:
    """Exit 3: the order is named, with the hours it needs; the old plan stays."""
    folder = tmp_path / "much"
    shutil.copytree(planned("two-presses"), folder)
    before = prints(folder)
    lines = (folder / "orders.csv").read_text(encoding="utf-8").splitlines()
    columns, first = lines[0].split(","), lines[1].split(",")
    first[columns.index("quantity")] = "1500"
    (folder / "orders.csv").write_text(f"{lines[0]}\n{','.join(first)}\n", encoding="utf-8")
    change(folder, "shop.toml", 'close = "14:00"\nbreaks = [["11:00", "11:20"]]', 'close = "08:40"')
    done = run("plan", folder, "--effort", "quick")
    assert done.returncode == 3, done.stderr
    assert f'"{first[columns.index("order")]}"' in done.stderr
    assert "14 days" in done.stderr
    assert prints(folder) == before


@pytest.mark.parametrize("words", [["plan"], ["plan", "x", "--effort", "much"], ["no-such-command"], ["audit", "--no"]])
def test_a_wrong_command_line_exits_2(words: list[str]) -> None:
    """A missing folder, an unknown word: usage, not a trace."""
    done = run(*words)
    assert done.returncode == 2
    assert "Traceback" not in done.stderr


def test_a_folder_that_is_not_there_exits_1(tmp_path: Path) -> None:
    """The message names it, without a trace."""
    done = run("plan", tmp_path / "nowhere")
    assert done.returncode == 1
    assert "nowhere" in done.stderr and "Traceback" not in done.stderr


def test_an_audit_of_a_changed_timetable_exits_4(planned: Callable[[str], Path], tmp_path: Path) -> None:
    """A row taken out is found, in words and as JSON."""
    folder = tmp_path / "changed"
    shutil.copytree(planned("two-presses"), folder)
    table = folder / "plan" / "timetable.csv"
    lines = table.read_text(encoding="utf-8").splitlines(keepends=True)
    gone = next(n for n, line in enumerate(lines) if ",dwell," in line)
    table.write_text("".join(lines[:gone] + lines[gone + 1 :]), encoding="utf-8")
    assert run("audit", folder).returncode == 4
    told = run("audit", folder, "--json")
    assert told.returncode == 4
    answer = json.loads(told.stdout)
    assert answer["sound"] is False and answer["findings"]


def test_json_is_all_that_stands_on_standard_output(planned: Callable[[str], Path], tmp_path: Path) -> None:
    """One JSON value for each of five commands; and the plan is the same, byte by byte, as without --json."""
    folder = copy("two-presses", tmp_path)
    new = json.loads(run("new", tmp_path / "new", "--json").stdout)
    assert {"shop.toml", "orders.xlsx"} < set(new["files"]) == {p.name for p in (tmp_path / "new").iterdir()}
    assert json.loads(run("spreadsheet", tmp_path / "new", "--json").stdout)["kept"] == "orders-before.xlsx"
    assert json.loads(run("check", folder, "--json").stdout)["sound"] is True
    done = run("plan", folder, "--effort", "quick", "--json")
    assert done.returncode == 0
    answer = json.loads(done.stdout)
    written = json.loads((folder / "plan" / "plan.json").read_text(encoding="utf-8"))
    assert written["format"] == "pressday-plan/1"
    assert answer.get("goals", answer.get("plan", {}).get("goals")) == written["goals"]
    assert json.loads(run("audit", folder, "--json").stdout)["sound"] is True
    for name in ("timetable.csv", "finish.csv", "plan.json"):
        assert (folder / "plan" / name).read_bytes() == (planned("two-presses") / "plan" / name).read_bytes()


@pytest.mark.parametrize("words", [["--help"], ["plan", "--help"], ["--version"]])
def test_help_loads_nothing_heavy(words: list[str]) -> None:
    """The command answers before it loads a solver, a data frame or a plot."""
    code = (
        "import sys\n"
        "from scheduler.cli import app\n"
        "try:\n"
        f"    app({words!r})\n"
        "except SystemExit as done:\n"
        "    assert not done.code, done.code\n"
        f"print('LOADED', [m for m in {HEAVY!r} if m in sys.modules])\n"
    )
    done = subprocess.run([sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
    assert done.stdout.splitlines()[-1] == "LOADED []"
