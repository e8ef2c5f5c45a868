"""Estimates of folders: what is read, what is left alone, and what --accept writes."""

from __future__ import annotations

import hashlib
import json
import shutil
from datetime import datetime
from pathlib import Path

import openpyxl
import pytest
from typer.testing import CliRunner

from models.order import OrderLine
from models.problem import BadInput
from scheduler.cli import app
from scheduler.intake import read_day, write_starter
from scheduler.intake.append import with_lines
from scheduler.output.files import read_plan
from scheduler.output.layout import columns
from tests.scheduler.replanning.folders import folder_in

ASK = ("--garment", "market-tee", "--design", "stall-chest", "--quantity", "9")


def run(*words: str | Path) -> tuple[int, str, str]:
    """Exit code, standard output and standard error of a command."""
    done = CliRunner().invoke(app, [str(word) for word in words])
    return done.exit_code, done.stdout, done.stderr


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder that `new` writes, with a start of its own, planned."""
    return folder_in(tmp_path_factory.mktemp("written"))


@pytest.fixture
def folder(tmp_path: Path, written: Path) -> Path:
    """A copy of it."""
    shutil.copytree(written, tmp_path / "day")
    return tmp_path / "day"


def marks(folder: Path) -> dict[str, str]:
    """Every file's sha256 by its name."""
    paths = sorted(path for path in folder.rglob("*") if path.is_file())
    return {str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest() for path in paths}


def test_an_estimate_leaves_every_byte_alone(folder: Path) -> None:
    """After an estimate every file of the folder, plan and all, is as it was, and there is no other."""
    before = marks(folder)
    code, out, _ = run("estimate", folder, *ASK, "--json")
    answer = json.loads(out)
    assert code == 0 and answer["promises_kept"] and answer["beside"] == "the plan in plan/"
    assert marks(folder) == before


def test_words_keep_to_the_width_and_show_the_caution(folder: Path) -> None:
    """The answer in words is at most 80 columns wide, and the trade's caution stands under it."""
    code, out, _ = run("estimate", folder, *ASK)
    assert code == 0 and max(map(columns, out.splitlines())) <= 80
    assert "Platens and fresh work burn" in out


def test_without_a_plan_or_with_an_old_one_it_says_so(folder: Path) -> None:
    """What the estimate was reckoned beside is told: no plan, or one of other inputs."""
    orders = folder / "orders.csv"
    orders.write_bytes(orders.read_bytes().replace(b"Lantern Choir", b"Lantern Voices"))
    assert "other inputs" in json.loads(run("estimate", folder, *ASK, "--json")[1])["beside"]
    (folder / "plan" / "plan.json").unlink()
    assert "no" in json.loads(run("estimate", folder, *ASK, "--json")[1])["beside"]


def test_every_slip_is_named_at_once(folder: Path) -> None:
    """An unknown garment, an unknown design and a quantity of nothing are three problems, and exit code 1."""
    code, _, err = run("estimate", folder, "--garment", "market-te", "--design", "x", "--quantity", "0")
    assert code == 1
    assert "3 problems" in err and 'Did you mean "market-tee"' in err and "the command line" in err


@pytest.mark.parametrize(
    "words", [("--garment", "market-tee"), ("--lines", "more.csv", *ASK), (*ASK, "--accept")], ids=lambda w: w[0]
)
def test_options_that_do_not_go_together_are_refused(folder: Path, words: tuple[str, ...]) -> None:
    """Too little, both ways at once, or an accepted order without a name: the command line is wrong, exit code 2."""
    assert run("estimate", folder, *words)[0] == 2


def test_lines_of_a_file_are_asked_for_together(folder: Path, tmp_path: Path) -> None:
    """A file with orders.csv's columns asks for all its lines; a name the folder has is refused with its row."""
    more = tmp_path / "more.csv"
    more.write_text("order;garment;quantity;design\nA;market-tee;3;stall-chest\nA;market-tee;2;stall-front\n")
    code, out, _ = run("estimate", folder, "--lines", more, "--json")
    assert code == 0 and [line["quantity"] for line in json.loads(out)["lines"]] == [3, 2]
    more.write_text("order,garment,quantity,design\n1001,market-tee,3,stall-chest\n")
    code, _, err = run("estimate", folder, "--lines", more)
    assert code == 1 and "more.csv, row 2, order" in err


def test_what_is_accepted_is_planned_as_promised(folder: Path) -> None:
    """--accept adds the row and writes a sound plan in which the order is done when the estimate says, or sooner."""
    before = (folder / "orders.csv").read_bytes()
    code, out, _ = run(
        "estimate", folder, *ASK, "--accept", "--effort", "quick", "--order", "1005", "--customer", "Mill", "--json"
    )
    answer = json.loads(out)
    assert code == 0 and answer["accepted"]
    after = (folder / "orders.csv").read_bytes()
    assert after.startswith(before) and after.count(b"\n") == before.count(b"\n") + 1
    plan = read_plan(folder / "plan" / "plan.json")
    (mine,) = [one for one in plan.orders if one.order == "1005"]
    assert mine.finish <= datetime.fromisoformat(answer["finish"])
    assert run("audit", folder)[0] == 0


def test_where_the_plan_cannot_be_written_the_orders_stay(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """All or nothing: a plan that fails to be written leaves orders.csv as it was."""

    def broken(*given: object) -> None:
        raise OSError(28, "No space left on device")

    before = marks(folder)
    monkeypatch.setattr("scheduler.estimating.accept.write", broken)
    code, _, err = run("estimate", folder, *ASK, "--accept", "--effort", "quick", "--order", "1005")
    assert code == 1 and "No space left" in err
    assert {k: v for k, v in marks(folder).items() if "lock" not in k} == {
        k: v for k, v in before.items() if "lock" not in k
    }


def test_an_order_that_would_be_late_is_not_accepted(folder: Path) -> None:
    """An order due before it can be done is refused with exit code 3, and nothing is written."""
    before = (folder / "orders.csv").read_bytes()
    due = read_plan(folder / "plan" / "plan.json").start.replace(second=0).isoformat()
    code, _, err = run("estimate", folder, *ASK, "--due", due, "--accept", "--effort", "quick", "--order", "1005")
    assert code == 3 and "after it is due" in err
    assert (folder / "orders.csv").read_bytes() == before


def test_a_workbook_is_not_written_into(folder: Path) -> None:
    """orders.xlsx is refused by --accept with the row to add by hand."""
    book = openpyxl.Workbook()
    for row in (folder / "orders.csv").read_text().splitlines():
        book.active.append(row.split(","))
    book.save(folder / "orders.xlsx")
    (folder / "orders.csv").unlink()
    assert run("estimate", folder, *ASK)[0] == 0
    code, _, err = run("estimate", folder, *ASK, "--accept", "--effort", "quick", "--order", "1005")
    assert code == 1 and "1005,,1,market-tee,,9,stall-chest,,,1" in err


LINE = OrderLine(
    order="77",
    customer="Moss, Fern & Co",
    line="1",
    garment="market-tee",
    quantity=4,
    design="stall-chest",
    due=datetime(2030, 1, 2, 15),
)


@pytest.mark.parametrize(
    "change",
    [
        lambda text: text.encode(),
        lambda text: text.replace("\n", "\r\n").encode(),
        lambda text: text.rstrip("\n").encode(),
        lambda text: text.replace(",", ";").encode("utf-8-sig"),
        lambda text: text.replace(",", "\t").encode("utf-16"),
        lambda text: text.replace("Lantern", "Lanterné").encode("cp1252"),
        lambda text: "\n".join(",".join(f'"{c}"' for c in ln.split(",")) for ln in text.splitlines()).encode(),
        lambda text: "\n".join(",".join(reversed(ln.split(","))) for ln in text.splitlines()).encode(),
    ],
    ids=["plain", "crlf", "no last line end", "semicolons and bom", "utf-16 tabs", "cp1252", "quoted", "other columns"],
)
def test_orders_are_added_to_in_their_own_layout(tmp_path: Path, change: object) -> None:
    """Whatever the separator, line ends, encoding, quotes and order of columns: what was there stays byte for byte, and
    the new line reads back as it was asked."""
    write_starter(tmp_path / "day")
    orders = tmp_path / "day" / "orders.csv"
    orders.write_bytes(change(orders.read_text(encoding="utf-8").replace("\r\n", "\n")))  # type: ignore[operator]
    before, was = orders.read_bytes(), read_day(tmp_path / "day").lines
    orders.write_bytes(with_lines(tmp_path / "day", [LINE]))
    assert orders.read_bytes().startswith(before)
    assert read_day(tmp_path / "day").lines == (*was, LINE)


def test_a_column_the_file_lacks_is_named(tmp_path: Path) -> None:
    """A due time for a file without that column is refused with what to add."""
    write_starter(tmp_path / "day")
    (tmp_path / "day" / "orders.csv").write_text("order,garment,quantity,design\n1,market-tee,3,stall-chest\n")
    with pytest.raises(BadInput) as error:
        with_lines(tmp_path / "day", [LINE])
    assert {problem.field for problem in error.value.problems} == {"customer", "due"}
