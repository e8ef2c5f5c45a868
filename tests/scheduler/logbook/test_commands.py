"""`pressday log` and `pressday status`."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from typer.testing import CliRunner

from models.log import LOG_WORDS
from scheduler.cli import app
from scheduler.output.cautions import CAUTIONS, SHORT_CAUTION
from scheduler.output.files import write_plan
from scheduler.output.layout import columns
from tests.scheduler.output.planned import ROOT, planned

DAY = "2026-12-08"  # of the scenario


def run(*words: str | Path) -> tuple[int, str, str]:
    """Exit code, standard output and standard error of a command."""
    done = CliRunner().invoke(app, [str(word) for word in words])
    return done.exit_code, done.stdout, done.stderr


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A copy of the team shirts with their plan."""
    day = tmp_path / "day"
    shutil.copytree(ROOT / "scenarios" / "team-shirts", day, ignore=shutil.ignore_patterns("plan*", ".*", "log.csv"))
    made = planned("team-shirts")
    write_plan(day, made.plan, made.rows, "<html></html>")
    return day


def test_a_line_is_added_and_told(folder: Path) -> None:
    """`log` writes what it was told, pieces by their names, and says what now stands in log.csv."""
    code, out, _ = run("log", folder, "down", "--press", "east", "--at", f"{DAY}T11:17", "--until", f"{DAY} 12:00")
    assert (code, out) == (0, f"log.csv: {DAY} 11:17:00 down east until {DAY} 12:00:00\n")
    words = ("--order", "2105", "--pieces", "1-2", "--at", f"{DAY}T11:18", "--note", "a crease", "--json")
    code, out, _ = run("log", folder, "spoiled", *words)
    assert code == 0 and json.loads(out)["written"] is True
    words = ("--order", "2103", "--due", f"{DAY}T15:00", "--priority", "2.50", "--at", f"{DAY}T09:00")
    assert run("log", folder, "rush", *words)[0] == 0
    assert (folder / "log.csv").read_text().splitlines()[1:] == [
        f"{DAY}T11:17:00,down,east,,,,,{DAY}T12:00:00,",
        f"{DAY}T11:18:00,spoiled,,,2105,,2105-1-001;2105-1-002,,a crease",
        f"{DAY}T09:00:00,rush,,,2103,,,{DAY}T15:00:00,priority 2.5",
    ]


def test_a_wrong_line_exits_with_one(folder: Path) -> None:
    """What does not fit the day exits with 1, all problems told, as JSON where asked, and nothing is written."""
    words = ("log", folder, "down", "--press", "eats", "--at", "2026-12-07T08:00", "--order", "2103")
    code, out, err = run(*words)
    assert code == 1 and out == "" and err.startswith("3 problems; nothing was written.\nlog.csv, row 2 (new), ")
    code, out, _ = run(*words, "--json")
    assert code == 1 and [p["field"] for p in json.loads(out)["problems"]] == ["at", "press", "order"]
    assert not (folder / "log.csv").exists()


@pytest.mark.parametrize(
    "words",
    [
        ["lost", "--press", "east"],
        ["down", "--press", "east", "--at", "ten"],
        ["down", "--press", "east", "--priority", "2"],
        ["rush", "--order", "2103", "--due", f"{DAY}T15:00", "--until", f"{DAY}T15:00"],
        [],
    ],
)
def test_a_wrong_command_line_exits_with_two(words: list[str], folder: Path) -> None:
    """An unknown event, a time that is none and options that do not go together are the command line's fault."""
    code, _, err = run("log", folder, *words)
    assert code == 2 and "Usage" in err and not (folder / "log.csv").exists()


def test_every_event_stands_in_the_help() -> None:
    """`log --help` names each event."""
    assert all(word in run("log", "--help")[1] for word in LOG_WORDS)


@pytest.mark.parametrize("command", [["status"], ["log", "down", "--press", "east"]])
def test_without_a_plan_it_says_so(command: list[str], tmp_path: Path) -> None:
    """Without a plan there is nothing to hold a log against: exit 1, and what to do."""
    day = tmp_path / "day"
    shutil.copytree(ROOT / "scenarios" / "two-presses", day, ignore=shutil.ignore_patterns("plan*", ".*"))
    code, _, err = run(command[0], day, *command[1:])
    assert code == 1 and "Plan first: pressday plan" in err
    assert run(command[0], tmp_path / "nowhere", *command[1:])[0] == 1


def test_status_tells_orders_presses_and_people(folder: Path) -> None:
    """Counts by order that add up, every press and person, the caution; no line wider than a terminal."""
    rows = [row for row in planned("team-shirts").rows if row.press == "east"]
    shut = [row.start for row in rows if row.what == "dwell" and "11:15" < f"{row.start:%H:%M}" < "11:25"]
    at = shut[0] + timedelta(seconds=1)  # a loading lies under it
    run("log", folder, "down", "--press", "east", "--at", at.isoformat(), "--until", f"{DAY}T12:00")
    code, out, _ = run("status", folder, "--at", f"{DAY}T11:30")
    assert (
        code == 0
        and out.startswith("Tarn Street Print Room at 11:30\n")
        and " ".join(out.split()).endswith(SHORT_CAUTION)
    )
    assert "2101 Fell Lane Choir: 21 finished of 21" in out and "To be pressed again" in out
    stood = [row.temperature for row in rows if row.what in ("warm-up", "change") and row.end <= at][-1]
    assert stood is not None
    cooled = datetime.fromisoformat(f"{DAY}T11:30") - at
    now = round(stood - 4 * cooled.total_seconds() / 60)  # shop.toml: it cools by 4 °F a minute
    assert (
        f"east: down since {at:%H:%M:%S} until 12:00, now at {now} °F" in out
        and "\n  ines: " in out
        and "\n  tobi: " in out
    )
    assert max(map(columns, out.splitlines())) <= 80


def test_status_tells_what_is_begun_from_what_is_not(folder: Path) -> None:
    """Pieces that wait for their next pressing are counted apart from those never begun, and all add up."""
    at = f"{DAY}T11:05"
    told = json.loads(run("status", folder, "--at", at, "--json")[1])["pieces"]
    own = [piece for piece in told if piece["piece"].startswith("2104-") and piece["status"] == "waiting"]
    begun = sum(piece["begun"] for piece in own)
    assert begun and begun < len(own)
    lines = " ".join(run("status", folder, "--at", at)[1].split())
    assert f"{begun} between pressings, {len(own) - begun} not begun of 64" in lines


def test_status_as_json_holds_every_piece(folder: Path) -> None:
    """--json gives the same counts, every piece with its operations, presses, people and the cautions."""
    run("log", folder, "absent", "--person", "ines", "--at", f"{DAY}T11:20", "--until", f"{DAY}T12:00")
    code, out, _ = run("status", folder, "--at", f"{DAY}T11:30", "--json")
    told = json.loads(out)
    assert code == 0 and told["cautions"] == list(CAUTIONS) and told["at"] == f"{DAY}T11:30:00"
    assert len(told["pieces"]) == sum(order["pieces"] for order in told["orders"]) == 124
    for order in told["orders"]:
        assert order["pieces"] == sum(v for k, v in order.items() if k not in ("order", "customer", "pieces"))
    (ines,) = [person for person in told["people"] if person["person"] == "ines"]
    assert ines["absent"] and ines["absent_until"] == f"{DAY}T12:00:00" and ines["doing"] is None


def test_a_damaged_log_is_told(folder: Path) -> None:
    """A log that cannot be read stops `status` with the row, and stays as it is."""
    (folder / "log.csv").write_text('at,what,press\n2026-12-08 09:00,down,"east\n')
    code, _, err = run("status", folder, "--at", f"{DAY}T11:30")
    assert code == 1 and "log.csv, row 2: a double quote is opened here and never closed" in err


def test_two_commands_at_once_both_land(folder: Path) -> None:
    """Two who log from two terminals at the same moment: both lines are there."""
    base = [sys.executable, "-m", "scheduler.cli", "log", str(folder), "absent", "--at", f"{DAY}T09:00", "--person"]
    runs = [subprocess.Popen([*base, who], cwd=ROOT, stdout=subprocess.PIPE) for who in ("ines", "tobi")]
    for one in runs:
        one.communicate()
    assert [one.returncode for one in runs] == [0, 0]
    lines = (folder / "log.csv").read_text().splitlines()[1:]
    assert sorted(line.split(",")[3] for line in lines) == ["ines", "tobi"]


def test_the_audit_stands_by_the_plan_after_a_line_was_logged(folder: Path) -> None:
    """log.csv belongs to the running day: adding to it does not make the plan's inputs stale."""
    run("log", folder, "absent", "--person", "ines", "--at", f"{DAY}T09:00", "--until", f"{DAY}T09:10")
    code, out, err = run("audit", folder)
    assert code == 0, out + err
