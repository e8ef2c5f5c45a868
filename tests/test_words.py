"""What the commands say: within 80 columns, in plain words, each thing once."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from typer.testing import CliRunner

from scheduler.cli import app
from scheduler.output.layout import columns
from tests.scheduler.output.planned import ROOT
from tests.scheduler.replanning.folders import everything, folder_in, middle

DAY = "2026-12-01"  # of the small folder


def run(*words: object) -> tuple[int, str, str]:
    """Exit code, standard output and standard error of a command."""
    done = CliRunner().invoke(app, [str(word) for word in words])
    return done.exit_code, done.stdout, done.stderr


def narrow(text: str) -> bool:
    """Whether no line is wider than 80 columns."""
    return max(map(columns, text.splitlines()), default=0) <= 80


@pytest.mark.parametrize("name", ["team-shirts", "two-presses", "fair-weekend", "mixed-peels", "celsius-studio"])
def test_check_keeps_to_eighty_columns(name: str) -> None:
    """A folder read back in words is wrapped, not cut: every film in use is still told."""
    code, out, _ = run("check", ROOT / "scenarios" / name)
    assert code == 0 and narrow(out) and "…" not in out
    assert out.count("after opening") == sum(line.startswith("Film ") for line in out.splitlines()) > 3


def test_every_answer_keeps_to_eighty_columns(tmp_path: Path) -> None:
    """What the commands of a day print is no wider than the narrowest terminal, long names and all."""
    folder = folder_in(tmp_path)
    at = middle(folder)
    orders = folder / "orders.csv"
    head, first, *others = orders.read_text(encoding="utf-8").splitlines()
    order, _, *rest = first.split(",")
    orders.write_text("\n".join([head, ",".join([order, "Customer " * 20, *rest]), *others]), encoding="utf-8")
    for words in (
        ("check", folder),
        ("plan", folder, "--effort", "quick"),
        ("sheets", folder),
        ("audit", folder),
        ("log", folder, "down", "--press", "wall", "--at", at, "--note", "a long note of many words " * 5),
        ("replan", folder, "--at", at, "--effort", "quick"),
        ("status", folder, "--at", at),
        ("learn", folder),
        ("audit", folder),
    ):
        code, out, _ = run(*words)
        told = "\n".join(line for line in out.splitlines() if str(folder) not in line)  # a path is not broken
        assert code == 0 and narrow(told), (words, out)


@pytest.mark.parametrize("words", [("status",), ("audit",), ("check",), ("compare",), ("estimate", "--lines", "x.csv")])
def test_who_only_reads_does_not_speak_of_writing(words: tuple[str, ...], tmp_path: Path) -> None:
    """That nothing was written is said where something would have been."""
    code, out, err = run(words[0], tmp_path / "nowhere", *words[1:])
    assert code == 1 and "written" not in out + err
    assert "nothing was written" in run("plan", tmp_path / "nowhere")[2]


def test_an_audit_of_what_cannot_be_read_is_no_failed_audit(tmp_path: Path) -> None:
    """Where the folder itself is wrong the exit code is 1, and each file is named once."""
    folder = folder_in(tmp_path)
    shop = folder / "shop.toml"
    shop.write_text(shop.read_text(encoding="utf-8").replace('"medium"', '"middling"'), encoding="utf-8")
    (folder / "catalog.toml").unlink()
    code, out, err = run("audit", folder)
    assert code == 1 and out.count("catalog.toml: there is no such file") == 1 and "input:" not in out
    assert err == "1 problem\n"


def test_one_finding_is_one_finding(tmp_path: Path) -> None:
    """One is counted in the singular."""
    folder = folder_in(tmp_path)
    (folder / "plan" / "finish.csv").unlink()
    code, _, err = run("audit", folder)
    assert code == 4 and err == "1 finding\n"


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("plan", "--effort", "fast"), "'fast' is not one of 'quick', 'normal', 'thorough'"),
        (("plan", "--seed", "1.5"), "this must be a whole number"),
        (("plan", "--seconds", "0"), "this must be at least 0.1"),
        (("sheets", "--paper", "a5"), "'a5' is not one of 'a4', 'letter'"),
        (("log", "rush", "--priority", "high"), "this must be a number"),
    ],
)
def test_a_wrong_option_is_told_plainly(words: tuple[str, ...], said: str, tmp_path: Path) -> None:
    """What is wrong with the command line is told without the words of the libraries beneath."""
    code, _, err = run(words[0], tmp_path, *words[1:])
    told = " ".join(err.replace("│", " ").split())
    assert code == 2 and said in told
    assert "Value error" not in told and "Input should" not in told and "parse" not in told


def test_a_plan_with_a_wrong_word_is_told_plainly(tmp_path: Path) -> None:
    """So is what is wrong with plan.json."""
    folder = folder_in(tmp_path)
    plan = folder / "plan" / "plan.json"
    plan.write_text(plan.read_text().replace('"status": "feasible"', '"status": "fast"').replace('"optimal"', '"fast"'))
    for command in ("status", "audit"):
        code, out, err = run(command, folder)
        assert code in (1, 4) and "this must be 'optimal' or 'feasible'" in " ".join((out + err).split())


def test_a_time_of_day_is_one_of_the_plans_day(tmp_path: Path) -> None:
    """`--at 08:20` without a date is meant on the day that is planned, for log, status and replan, as `--until` is."""
    folder = folder_in(tmp_path)
    at = middle(folder)
    code, out, _ = run("log", folder, "down", "--press", "wall", "--at", f"{at:%H:%M}", "--until", "16:30")
    assert code == 0 and out == f"log.csv: {DAY} {at:%H:%M}:00 down wall until {DAY} 16:30:00\n"
    assert f"at {at:%H:%M:%S}\n" in run("status", folder, "--at", f"{at:%H:%M:%S}")[1]
    words = ("--up", "wall", "--down", "wall", "--until", "15:00", "--effort", "quick")
    assert run("replan", folder, "--at", f"{at:%H:%M:%S}", *words)[0] == 0
    assert f",down,wall,,,,,{DAY}T15:00:00," in (folder / "log.csv").read_text()
    code, _, err = run("status", folder, "--at", "25:00")
    assert code == 2 and '"10:42"' in " ".join(err.replace("│", " ").split())


def test_a_time_of_day_needs_no_sound_plan(tmp_path: Path) -> None:
    """Without a plan to take the day from, what is wrong with the plan is told, not the time."""
    folder = folder_in(tmp_path)
    shutil.rmtree(folder / "plan")
    code, _, err = run("replan", folder, "--at", "10:42")
    assert code == 1 and err.count("there is no plan.json") == 1


def test_a_line_in_several_lots_is_told_once(tmp_path: Path) -> None:
    """Where no press is left every line of an order has one reason, with all its pieces that wait."""
    folder = tmp_path / "day"
    shutil.copytree(ROOT / "scenarios" / "team-shirts", folder)
    assert run("plan", folder, "--effort", "quick")[0] == 0
    before = everything(folder)
    code, _, err = run("replan", folder, "--at", "10:45", "--down", "east", "--down", "west")
    reasons = [line for line in err.splitlines() if line.startswith('order "2104" line 2')]
    assert code == 3 and len(reasons) == 1
    assert 'takes "front" or "back"; 20 pieces wait for it' in reasons[0]
    assert everything(folder) == before
