"""README.md, DEVELOPERS.md, CHANGELOG.md and .ci/run say what is so."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import tomllib
from datetime import date
from pathlib import Path

import pytest
from pydantic import BaseModel
from pydantic_core import PydanticUndefined
from typer.testing import CliRunner

import scheduler
from models.catalog import PEEL_DEFAULTS, Film, Garment
from models.design import Designs, Layer, Placement
from models.order import NameRow, OrderLine
from models.shop import Goals, Hands, Hours, Person, Press, Room, Rules, Shop, Spread, Units, clock
from scheduler.audit import audit_folder
from scheduler.cli import app
from scheduler.output.files import write_plan
from tests.scenarios.folders import NAMES, ROOT
from tests.scheduler.output.planned import planned

README = (ROOT / "README.md").read_text(encoding="utf-8")
PLAN = "python3 -m venv .venv && .venv/bin/pip install -q . && .venv/bin/pressday plan scenarios/team-shirts"
TESTS = "python3 -m venv .venv && .venv/bin/pip install -q '.[test]' && .venv/bin/python -m pytest"

# The words that stand right above each table of fields, and the model the table describes.
TABLES: dict[str, type[BaseModel]] = {
    "At the top of the file": Shop,
    "`[units]`": Units,
    "`[hours]`": Hours,
    "`[room]`": Room,
    "`[hands]`": Hands,
    "`[rules]`": Rules,
    "`[goals]`": Goals,
    "`[spread]`": Spread,
    "`[[press]]`": Press,
    "`[[person]]`": Person,
    "`[[film]]`": Film,
    "`[[garment]]`": Garment,
    "| field of a placement": Placement,
    "| field of a layer": Layer,
    "### orders.csv": OrderLine,
    "### names.csv": NameRow,
}
# Fields that are tables of their own, described under their own heading.
OWN_TABLES = {
    Shop: {"units", "hours", "room", "hands", "rules", "goals", "spread", "press", "person"},
    Placement: {"layer"},
}


def fields_told(start: str) -> dict[str, str]:
    """Field name to the cell under "left out" of the first table from the line that starts with `start`."""
    at = README.index("\n" + start) + 1
    rows = re.search(r"(?:^\|.*\n)+", README[at:], re.MULTILINE)
    assert rows is not None
    cells = [[cell.strip() for cell in line.strip("|").split("|")] for line in rows[0].splitlines()[2:]]
    return {row[0].strip("` "): row[2] for row in cells}


def same(told: str, default: object) -> bool:
    text = told.strip("`")
    if default is False or default is True:
        return text == str(default).lower()
    if isinstance(default, int) and ":" in text:
        return clock(text.strip('"')) == default
    if isinstance(default, (int, float)):
        return float(text) == default
    return text.strip('"') == default


@pytest.mark.parametrize("start", TABLES)
def test_the_readme_tells_every_field(start: str) -> None:
    """Every field that a person can write stands in README.md, and no field that nobody reads."""
    model = TABLES[start]
    assert set(fields_told(start)) == set(model.model_fields) - OWN_TABLES.get(model, set())


@pytest.mark.parametrize("start", TABLES)
def test_the_readme_tells_the_defaults(start: str) -> None:
    """Where the model has a plain default README.md gives it, and calls needed what has none."""
    told = fields_told(start)
    for name, field in TABLES[start].model_fields.items():
        if name not in told or name == "line":  # a blank line is numbered before the model sees it
            continue
        if field.default is PydanticUndefined:
            assert told[name].startswith("needed"), name
        elif isinstance(field.default, (bool, int, float)) or field.default in ("F", "in"):
            assert same(told[name], field.default), (name, told[name], field.default)
        else:
            assert not told[name].startswith("needed") or name == "cooling_tau_s", name


def test_the_readme_tells_when_films_are_peeled() -> None:
    """The peel windows that hold where a film gives none are those of the models."""
    told = fields_told("`[[film]]`")["peel_after_s"]
    for peel, window in PEEL_DEFAULTS.items():
        given = [window.lo] if window.hi is None else [window.lo, window.hi]
        assert f"{peel} `{given}`" in told


def test_the_readme_holds_the_two_commands() -> None:
    """README.md gives one command to plan a day and one to run the tests, each on a line of its own."""
    assert README.splitlines().count(PLAN) == 1
    assert README.splitlines().count(TESTS) == 1


def test_the_readme_s_bad_day_can_be_had(tmp_path: Path) -> None:
    """The commands of "When the day goes wrong" do what they say, one after another, on the plan of the first one."""
    folder = tmp_path / "day"
    shutil.copytree(ROOT / "scenarios" / "team-shirts", folder, ignore=shutil.ignore_patterns("plan*", ".*", "log.csv"))
    made = planned("team-shirts")
    write_plan(folder, made.plan, made.rows, "<html></html>")
    told = README.split("## When the day goes wrong")[1].split("```")[1]
    commands = [line.split()[1:] for line in told.splitlines() if line.startswith("pressday ")]
    assert [words[0] for words in commands] == ["log", "replan"]
    for words in commands:
        here = [str(folder) if word == "scenarios/team-shirts" else word for word in words]
        done = CliRunner().invoke(app, [*here, *(["--effort", "quick"] if "replan" in here else [])])
        assert done.exit_code == 0, done.stderr
    assert not audit_folder(folder)


def test_the_readme_lists_every_scenario() -> None:
    """README.md links the note of each example folder, and every file it links is there."""
    assert {f"scenarios/{name}/README.md" for name in NAMES} <= set(links(README))
    for document in ("README.md", "DEVELOPERS.md"):
        for link in links((ROOT / document).read_text(encoding="utf-8")):
            assert (ROOT / link).exists(), link


def links(text: str) -> list[str]:
    """The files that a document links."""
    return re.findall(r"\]\((?!https?:|#)([^)#]+)\)", text)


def test_the_readme_example_is_a_design() -> None:
    """The example of designs.toml reads with the models."""
    (example,) = re.findall(r"```toml\n(.*?)```", README, re.DOTALL)
    assert Designs.model_validate(tomllib.loads(example)).design[0].id == "harriers-home"


def test_the_readme_carries_every_caution() -> None:
    """The cautions of the trade stand in README.md: burns, data sheets, fumes, circuits, codes."""
    cautions = README.split("## Cautions")[1].split("\n## ")[0]
    for word in (
        "burn",
        "gloves",
        "guard",
        "closed press",
        "data sheets",
        "fumes",
        "ventilate",
        "electrician",
        "codes",
    ):
        assert word in cautions, word


def test_the_developers_guide_names_every_room_and_no_other() -> None:
    """DEVELOPERS.md names each module of models and each room of scheduler, and everything it names is there."""
    guide = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    named = set(re.findall(r"`((?:models|scheduler)/[\w/.]+)`", guide))
    rooms = [p for p in (ROOT / "scheduler").iterdir() if (p / "__init__.py").exists() or p.suffix == ".py"]
    modules = [*rooms, *(ROOT / "models").glob("*.py")]
    there = {str(p.relative_to(ROOT)) for p in modules if p.name not in ("__init__.py", "base.py")}
    assert there <= named
    assert [name for name in sorted(named) if not (ROOT / name).exists()] == []


def test_the_changelog_ends_at_this_version() -> None:
    """The newest release in CHANGELOG.md is the package's version, dated, under an Unreleased heading."""
    headings = re.findall(r"^## (.*)$", (ROOT / "CHANGELOG.md").read_text(encoding="utf-8"), re.MULTILINE)
    assert headings[0] == "[Unreleased]"
    newest = re.fullmatch(r"\[(.+)\] - (\d{4}-\d{2}-\d{2})", headings[1])
    assert newest is not None and newest[1] == scheduler.__version__
    assert date.fromisoformat(newest[2]) >= date(2026, 11, 25)


def ci_run(tree: Path, readme: str) -> subprocess.CompletedProcess[str]:
    """Run .ci/run in a tree of its own with this README, under a `python3` that only says what it was asked."""
    (tree / ".ci").mkdir()
    shutil.copy(ROOT / ".ci" / "run", tree / ".ci" / "run")
    (tree / "README.md").write_text(readme, encoding="utf-8")
    bin_folder = tree / ".venv" / "bin"
    bin_folder.mkdir(parents=True)
    for name in ("python3", "pip", "python"):
        stand_in = bin_folder / name
        stand_in.write_text(f'#!/bin/sh\necho "{name} $* browser=$PRESSDAY_BROWSER"\n', encoding="utf-8")
        stand_in.chmod(0o755)
    env = {**os.environ, "PATH": f"{bin_folder}:{os.environ['PATH']}"}
    return subprocess.run([tree / ".ci" / "run"], env=env, capture_output=True, text=True, check=False)


@pytest.mark.skipif(not Path("/usr/bin/chromium").exists(), reason=".ci/run would install Chromium")
def test_ci_runs_the_readme_test_command(tmp_path: Path) -> None:
    """.ci/run runs the test command that README.md gives, with the browser required, and no copy of it."""
    done = ci_run(tmp_path, README)
    assert done.returncode == 0, done.stderr
    assert done.stdout.splitlines() == [
        f"+ {TESTS}",
        "python3 -m venv .venv browser=required",
        "pip install -q .[test] browser=required",
        "python -m pytest browser=required",
    ]


@pytest.mark.skipif(not Path("/usr/bin/chromium").exists(), reason=".ci/run would install Chromium")
def test_ci_fails_where_the_readme_has_no_test_command(tmp_path: Path) -> None:
    """A README without the command is a failure, never a run that tests nothing."""
    done = ci_run(tmp_path, README.replace(TESTS, ""))
    assert done.returncode == 1
    assert "exactly one line with the test command" in done.stderr
