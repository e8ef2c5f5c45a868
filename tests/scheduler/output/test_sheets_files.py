"""`pressday sheets`: what it reads, what it writes, and what it will not touch."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
from typer.testing import CliRunner

from models.problem import BadInput
from scheduler.cli import app
from scheduler.output import swap
from scheduler.output.files import write_plan
from scheduler.output.sheets_files import write_sheets
from scheduler.sheeting import paper_there, sheets_note, write_folder_sheets
from tests.scheduler.output.planned import ROOT, planned


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A day folder with a plan in it."""
    day = tmp_path / "day"
    shutil.copytree(ROOT / "scenarios" / "two-presses", day)
    made = planned("two-presses")
    write_plan(day, made.plan, made.rows, "<!doctype html>")
    return day


def test_sheets_are_written_beside_the_plan(folder: Path) -> None:
    """sheets/ holds exactly the pages that are told, and the plan stays as it was."""
    before = {path.name: path.read_bytes() for path in (folder / "plan").iterdir()}
    made = write_folder_sheets(folder)
    assert made.folder == folder / "sheets" and made.warnings == ()
    assert {path.name for path in made.folder.iterdir()} == set(made.files)
    assert {path.name: path.read_bytes() for path in (folder / "plan").iterdir()} == before


def test_a_day_without_a_plan_is_told_to_plan_first(tmp_path: Path) -> None:
    """Without a plan the command says what is missing and what to do, and writes nothing."""
    shutil.copytree(ROOT / "scenarios" / "two-presses", tmp_path / "day")
    done = CliRunner().invoke(app, ["sheets", str(tmp_path / "day")])
    assert done.exit_code == 1
    assert "there is no plan.json" in done.stderr and "Plan first" in done.stderr
    assert not (tmp_path / "day" / "sheets").exists()


def test_no_folder_is_told(tmp_path: Path) -> None:
    """A folder that is not there is named."""
    with pytest.raises(BadInput, match="nowhere"):
        write_folder_sheets(tmp_path / "nowhere")


def test_a_damaged_plan_is_told(folder: Path) -> None:
    """Where the timetable has lost the row that loads a press, the loading is named and nothing is written."""
    timetable = folder / "plan" / "timetable.csv"
    kept = [line for line in timetable.read_text(encoding="utf-8").splitlines() if ",load," not in line]
    timetable.write_text("\n".join(kept), encoding="utf-8")
    with pytest.raises(BadInput) as fault:
        write_folder_sheets(folder)
    loadings = {row.loading for row in planned("two-presses").rows if row.loading is not None}
    assert [problem.where for problem in fault.value.problems] == [f"loading {n}" for n in sorted(loadings)]
    assert not (folder / "sheets").exists()


def test_a_press_that_was_taken_away_is_still_told(folder: Path) -> None:
    """Where shop.toml no longer has a press of the plan, its sheet is written all the same, with the warning."""
    shop = (folder / "shop.toml").read_text(encoding="utf-8")
    (folder / "shop.toml").write_text(shop.replace('"quick"', '"other"'), encoding="utf-8")
    made = write_folder_sheets(folder)
    assert {"press-quick.html", "press-other.html"} <= set(made.files)
    page = (made.folder / "press-quick.html").read_text(encoding="utf-8")
    assert made.warnings[0].startswith("shop.toml has changed") and made.warnings[0] in page
    assert 'class="run"' in page


def test_a_changed_input_is_told(folder: Path) -> None:
    """Where an input is not as it was when the plan was made, the command and every sheet say which."""
    orders = folder / "orders.csv"
    orders.write_text(orders.read_text(encoding="utf-8").replace("Kestrel", "Sparrow"), encoding="utf-8")
    done = CliRunner().invoke(app, ["sheets", str(folder), "--json"])
    assert done.exit_code == 0
    (warning,) = json.loads(done.stdout)["warnings"]
    assert warning.startswith("orders.csv has changed since this plan was made")
    assert f"Warning: {warning}" in " ".join(done.stderr.split())
    assert all(warning in path.read_text(encoding="utf-8") for path in (folder / "sheets").iterdir())


def test_paper_is_asked_for(folder: Path) -> None:
    """--paper letter makes sheets for Letter; a paper nobody knows is a fault of the command line."""
    assert CliRunner().invoke(app, ["sheets", str(folder), "--paper", "letter"]).exit_code == 0
    assert "size: letter portrait" in (folder / "sheets" / "index.html").read_text(encoding="utf-8")
    assert CliRunner().invoke(app, ["sheets", str(folder), "--paper", "a5"]).exit_code == 2


def test_sheets_of_another_plan_are_told(folder: Path) -> None:
    """Where sheets/ is of another plan than the one beside it, or holds no mark, that is said; else nothing is."""
    assert sheets_note(folder) == ""
    made = write_folder_sheets(folder)
    assert sheets_note(folder) == ""
    other = planned("two-presses")
    write_plan(folder, other.plan.model_copy(update={"seed": 7}), other.rows, "<!doctype html>")
    assert "of another plan" in sheets_note(folder) and f"pressday sheets {folder}" in sheets_note(folder)
    write_folder_sheets(folder)
    assert sheets_note(folder) == ""
    (made.folder / "index.html").write_text("<html>", encoding="utf-8")
    assert "of another plan" in sheets_note(folder)


def test_plan_writes_the_sheets_on_the_paper_they_had(folder: Path) -> None:
    """`plan` says where the sheets are of another plan; with --sheets they are written anew, on the same paper."""
    run = CliRunner()
    assert run.invoke(app, ["sheets", str(folder), "--paper", "letter"]).exit_code == 0
    words = ["plan", str(folder), "--effort", "quick", "--seed", "5"]
    told = run.invoke(app, [*words, "--json"])
    assert told.exit_code == 0 and json.loads(told.stdout)["seed"] == 5
    assert "sheets/ is still of another plan" in told.stderr
    again = run.invoke(app, [*words, "--sheets"])
    assert again.exit_code == 0 and "sheets written" in again.stderr and "another plan" not in again.stderr
    assert paper_there(folder) == "letter" and sheets_note(folder) == ""


def test_sheets_are_replaced_whole(tmp_path: Path) -> None:
    """New sheets take the place of the old ones, none of which stays, and what a killed run left is cleared away."""
    write_sheets(tmp_path, {"index.html": "old", "press-gone.html": "old"})
    (tmp_path / ".sheets-new-half").mkdir()
    assert write_sheets(tmp_path, {"index.html": "new"}) == tmp_path / "sheets"
    assert {path.name: path.read_text() for path in (tmp_path / "sheets").iterdir()} == {"index.html": "new"}
    assert {path.name for path in tmp_path.iterdir()} == {"sheets", ".pressday.lock"}


def test_sheets_are_replaced_where_names_cannot_be_exchanged(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """On a disk that cannot exchange two names the new sheets come all the same."""
    write_sheets(tmp_path, {"index.html": "old"})
    monkeypatch.setattr(swap, "exchange", lambda one, other: False)
    write_sheets(tmp_path, {"index.html": "new"})
    assert (tmp_path / "sheets" / "index.html").read_text() == "new"
    assert {path.name for path in tmp_path.iterdir()} == {"sheets", ".pressday.lock"}


def test_a_disk_that_fails_leaves_the_old_sheets(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where writing fails the old sheets stay, nothing half is left, and the reason is told."""
    write_sheets(tmp_path, {"index.html": "old"})

    def full(new: Path, files: object) -> None:
        new.mkdir()
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(swap, "build", full)
    with pytest.raises(BadInput, match="No space left"):
        write_sheets(tmp_path, {"index.html": "new"})
    assert (tmp_path / "sheets" / "index.html").read_text() == "old"
    assert {path.name for path in tmp_path.iterdir()} == {"sheets", ".pressday.lock"}


@pytest.mark.parametrize("name", ["photo.png", "press-notes.txt", ".hidden"])
def test_what_pressday_did_not_write_is_left_alone(tmp_path: Path, name: str) -> None:
    """A sheets/ that holds anything else is the shop's own: it is named and not replaced."""
    (tmp_path / "sheets").mkdir()
    (tmp_path / "sheets" / name).write_text("mine")
    with pytest.raises(BadInput, match="pressday did not write"):
        write_sheets(tmp_path, {"index.html": "new"})
    assert (tmp_path / "sheets" / name).read_text() == "mine"


def test_a_link_is_not_followed(tmp_path: Path) -> None:
    """A link under the name sheets is refused, and what it leads to stays."""
    (tmp_path / "elsewhere").mkdir()
    (tmp_path / "sheets").symlink_to(tmp_path / "elsewhere")
    with pytest.raises(BadInput, match="this is a link"):
        write_sheets(tmp_path, {"index.html": "new"})
    assert (tmp_path / "sheets").is_symlink() and not list((tmp_path / "elsewhere").iterdir())
