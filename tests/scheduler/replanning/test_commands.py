"""`pressday replan` and `restore` from the command line: exit codes, what is written, what is refused."""

from __future__ import annotations

import json
import os
from datetime import timedelta
from pathlib import Path

import pytest
from typer.testing import CliRunner

from scheduler.audit import audit_folder
from scheduler.cli import app
from scheduler.output.files import read_plan, read_timetable
from scheduler.output.lock import locked
from tests.scheduler.output.children import in_child
from tests.scheduler.replanning.folders import everything, folder_in, middle

HOUR = timedelta(hours=1)


def run(*words: object) -> tuple[int, str, str]:
    """Exit code, standard output and standard error of a command."""
    done = CliRunner().invoke(app, [str(word) for word in words])
    return done.exit_code, done.stdout, done.stderr


def test_a_press_goes_down_until_then(tmp_path: Path) -> None:
    """The line is logged, the rest planned again, the change told in words, on the page and in plan.json."""
    folder = folder_in(tmp_path)
    at = middle(folder)
    code, out, _ = run(
        "replan",
        folder,
        "--at",
        at.isoformat(),
        "--down",
        "wall",
        "--until",
        (at + HOUR).isoformat(),
        "--effort",
        "quick",
    )
    assert code == 0 and "What changed" in out and "down wall" in out
    lines = (folder / "log.csv").read_text().splitlines()
    assert lines[1].startswith(f"{at:%Y-%m-%dT%H:%M:%S},down,wall") and f"{at + HOUR:%Y-%m-%dT%H:%M:%S}" in lines[1]
    changes = json.loads((folder / "plan" / "plan.json").read_text())["changes"]
    assert changes["at"] == f"{at:%Y-%m-%dT%H:%M:%S}" and {p["press"] for p in changes["presses"]} == {"window", "wall"}
    assert {o["order"] for o in changes["orders"]} == {o.order for o in read_plan(folder / "plan" / "plan.json").orders}
    page = (folder / "plan" / "timeline.html").read_text()
    assert 'id="changed-orders"' in page and "Planned again" in page
    assert not audit_folder(folder)
    assert run("status", folder, "--at", (at + HOUR / 6).isoformat())[0] == 0
    assert '"word":"down","long":"down until ' in page  # once it was shown as if it were idle, then as away
    assert "log.csv" not in run("sheets", folder)[2]  # the sheets took the line just logged for one that came later
    assert run("log", folder, "up", "--press", "wall", "--at", (at + HOUR / 2).isoformat())[0] == 0
    assert "log.csv has changed since this plan was made" in run("sheets", folder)[2]
    plan = read_plan(folder / "plan" / "plan.json")
    for order in plan.orders:
        assert order.holds_95 is not None and order.holds_50 is not None
        assert order.holds_95 >= order.holds_50 and (order.finish > at or order.holds_95 == order.finish)
    assert any(order.holds_95 > order.finish for order in plan.orders if order.holds_95)


def test_planning_a_day_that_has_begun_says_what_it_leaves_out(tmp_path: Path) -> None:
    """plan over a log of that day still plans it whole, and says so, with the way to plan what is left of it."""
    folder = folder_in(tmp_path)
    at = middle(folder).isoformat()
    assert "log.csv" not in run("plan", folder, "--effort", "quick")[2]
    assert run("log", folder, "absent", "--at", at, "--person", "tomas")[0] == 0
    code, _, err = run("plan", folder, "--effort", "quick")
    assert code == 0 and "log.csv has 1 line since" in err and "pressday replan" in err
    assert run("restore", folder)[0] == 0
    assert run("replan", folder, "--at", at, "--effort", "quick")[0] == 0


def test_a_workbook_is_not_written_while_another_run_is_at_work(tmp_path: Path) -> None:
    """spreadsheet changes the orders, so it takes the folder's lock like all that write."""
    folder = folder_in(tmp_path)
    with locked(folder):
        code, other = in_child(lambda tell: os.write(tell, run("spreadsheet", folder)[2].encode()) and None)
    assert code == 0 and b"Another run" in other and not (folder / "orders-before.csv").exists()


def test_each_until_goes_with_what_stands_before_it(tmp_path: Path) -> None:
    """A press for an hour and a person for good, in one command."""
    folder = folder_in(tmp_path)
    at = middle(folder)
    words = ["--down", "wall", f"--until={(at + HOUR).isoformat()}", "--absent", "tomas"]
    assert run("replan", folder, "--at", at.isoformat(), *words, "--effort", "quick")[0] == 0
    down, absent = (folder / "log.csv").read_text().splitlines()[1:]
    assert ",down,wall," in down and f"{at + HOUR:%H:%M}" in down
    assert ",absent,,tomas,,,,," in absent


@pytest.mark.parametrize(
    ("words", "code", "says"),
    [
        (["--down", "wal"], 1, "wall"),
        (["--up", "wall"], 1, "not down"),
        (["--until", "2026-12-01T10:00"], 2, "--down"),
        (["--down", "wall", "--until", "yesterday"], 2, "yesterday"),
        (["--down", "wall", "--down", "window"], 3, "no press"),
    ],
)
def test_what_is_refused_changes_nothing(words: list[str], code: int, says: str, tmp_path: Path) -> None:
    """A wrong line, a wrong command line, no plan: the reason is told, no byte of log or plan is changed."""
    folder = folder_in(tmp_path)
    before = everything(folder)
    found, _, err = run("replan", folder, "--at", middle(folder).isoformat(), *words, "--effort", "quick")
    assert found == code and says in err
    assert everything(folder) == before


def test_a_moment_before_the_last_replanning_or_log_line_is_refused(tmp_path: Path) -> None:
    """The day goes on from where it has been planned and logged to."""
    folder = folder_in(tmp_path)
    at = middle(folder)
    code, _, err = run("replan", folder, "--at", (at - 24 * HOUR).isoformat())
    assert code == 1 and "the plan begins" in err
    assert run("log", folder, "down", "--press", "wall", "--at", (at + HOUR / 6).isoformat())[0] == 0
    code, _, err = run("replan", folder, "--at", at.isoformat())
    assert code == 1 and "later than that" in err
    assert run("replan", folder, "--at", (at + HOUR / 5).isoformat(), "--effort", "quick")[0] == 0
    code, _, err = run("replan", folder, "--at", (at + HOUR / 6).isoformat())
    assert code == 1 and "made again" in err


@pytest.mark.parametrize(("name", "bad"), [("plan/plan.json", "{"), ("log.csv", "at,what\n2026-12-01T09:00,dawn\n")])
def test_damaged_files_are_told_and_not_overwritten(name: str, bad: str, tmp_path: Path) -> None:
    """A damaged plan.json or log.csv: exit 1 with the file and the place, and nothing is written."""
    folder = folder_in(tmp_path)
    at = middle(folder).isoformat()
    (folder / name).write_text(bad)
    before = everything(folder)
    code, _, err = run("replan", folder, "--at", at)
    assert code == 1 and Path(name).name in err and ("row 2" in err or "line" in err or "JSON" in err)
    assert everything(folder) == before


def test_two_at_once_do_not_mix(tmp_path: Path) -> None:
    """While another run holds the folder, replan and restore say so and leave everything as it is."""
    import threading

    folder = folder_in(tmp_path)
    before, at, found = everything(folder), middle(folder).isoformat(), []

    def other() -> None:
        found.append(run("replan", folder, "--at", at, "--down", "wall"))
        found.append(run("restore", folder))

    with locked(folder):
        thread = threading.Thread(target=other)
        thread.start()
        thread.join()
    assert all(code == 1 and "at work" in err for code, _, err in found) and len(found) == 2
    assert everything(folder) == before


def test_a_new_order_is_taken_in(tmp_path: Path) -> None:
    """An order written into orders.csv during the day is planned with the rest."""
    folder = folder_in(tmp_path)
    orders = folder / "orders.csv"
    text = orders.read_text(encoding="utf-8").rstrip("\n")
    first = text.splitlines()[1].split(",")
    orders.write_text("\n".join([text, ",".join(["9001", "Walk-in", *first[2:]])]) + "\n", encoding="utf-8")
    code, _, err = run("replan", folder, "--at", middle(folder).isoformat(), "--effort", "quick")
    assert code == 0, err
    changes = read_plan(folder / "plan" / "plan.json").changes
    assert changes is not None
    new = next(order for order in changes.orders if order.order == "9001")
    assert new.was is None and new.now is not None
    assert not audit_folder(folder)


def test_worked_pieces_cannot_vanish_from_the_orders(tmp_path: Path) -> None:
    """Whoever takes a line out of orders.csv that has been begun is told to put it back and cancel it."""
    folder = folder_in(tmp_path)
    first = min(read_timetable(folder / "plan" / "timetable.csv"), key=lambda row: (not row.order, row.start)).order
    orders = folder / "orders.csv"
    left = [line for line in orders.read_text(encoding="utf-8").splitlines() if not line.startswith(f"{first},")]
    orders.write_text("\n".join(left) + "\n", encoding="utf-8")
    names = folder / "names.csv"
    if names.exists():
        kept = [line for line in names.read_text(encoding="utf-8").splitlines() if not line.startswith(f"{first},")]
        names.write_text("\n".join(kept) + "\n", encoding="utf-8")
    code, _, err = run("replan", folder, "--at", middle(folder).isoformat())
    assert code == 1 and "has been worked on" in err and "cancel" in err


def test_a_plan_from_before_comes_back(tmp_path: Path) -> None:
    """restore brings back the plan before, byte for byte, keeps the present one, and says which numbers there are."""
    folder = folder_in(tmp_path)
    code, _, err = run("restore", folder)
    assert code == 1 and "no plan" in err
    first = everything(folder / "plan")
    assert run("replan", folder, "--at", middle(folder).isoformat(), "--absent", "tomas", "--effort", "quick")[0] == 0
    second = everything(folder / "plan")
    assert run("restore", folder)[0] == 0
    assert everything(folder / "plan") == first
    code, _, err = run("restore", folder, 7)
    assert code == 1 and "1, 2" in err
    assert run("restore", folder, 2)[0] == 0
    assert everything(folder / "plan") == second
    assert not audit_folder(folder)
