"""shop.toml changed in its figures alone, and the command that does it."""

from __future__ import annotations

import json
import shutil
import threading
import tomllib
from collections.abc import Sequence
from datetime import timedelta
from pathlib import Path

import pytest
from typer.testing import CliRunner

from models.log import Entry
from models.problem import BadInput
from scheduler.cli import app
from scheduler.learning import shopfile
from scheduler.logbook.book import cells_of
from scheduler.logbook.cells import COLUMNS
from scheduler.output.cells import csv_text
from scheduler.output.files import read_timetable
from scheduler.output.layout import columns
from scheduler.output.lock import locked
from scheduler.writing import plan_and_write
from tests.scheduler.output.planned import ROOT

TEXT = """\
name = "Quay Prints"   # ours

[hands]                # measured in May
load_s = 10            # dress it
unload_s = 4

# The big one.
[[press]]
id = "window"
platen = [16, 20]
temperature = [200, 430]
heating = { ceiling = 520, tau_min = 22 }   # by the display
cool_down = 4

# Opens by itself.
[[press]]
id = "wall"
platen = [15, 15]
temperature = [200, 400]
heat_up = 30
cool_down = 5

[[person]]
id = "ada"             # mornings

# New this year.
[[person]]
pace = 1.1
id = "ben"
"""


def test_figures_are_replaced_in_their_places_and_nothing_else() -> None:
    """Comments, blanks and order stay; what was left out gets a line below its table's head or its id."""
    new = shopfile.changed(
        TEXT,
        {
            ("hands", "load_s"): 11.5,
            ("hands", "peel_s"): 3.0,
            ("press", 0, "heating", "tau_min"): 24.5,
            ("press", 1, "heat_up"): 27.25,
            ("person", 0, "pace"): 0.95,
            ("person", 1, "pace"): 1.2,
            ("spread", "spoil"): 0.03,
        },
    )
    told = [
        line for line in shopfile.diff(TEXT, new).splitlines() if line[0] in "+-" and line[:3] not in ("+++", "---")
    ]
    assert told == [
        "-load_s = 10            # dress it",
        "+peel_s = 3",
        "+load_s = 11.5            # dress it",
        "-heating = { ceiling = 520, tau_min = 22 }   # by the display",
        "+heating = { ceiling = 520, tau_min = 24.5 }   # by the display",
        "-heat_up = 30",
        "+heat_up = 27.25",
        "+pace = 0.95",
        "-pace = 1.1",
        "+pace = 1.2",
        "+",
        "+[spread]",
        "+spoil = 0.03",
    ]
    assert tomllib.loads(new)["person"] == [{"id": "ada", "pace": 0.95}, {"pace": 1.2, "id": "ben"}]


def test_line_ends_of_windows_stay() -> None:
    """A file saved with CRLF keeps it on every line."""
    new = shopfile.changed(TEXT.replace("\n", "\r\n"), {("hands", "load_s"): 12.0, ("person", 0, "pace"): 1.3})
    assert new.count("\n") == new.count("\r\n") == TEXT.count("\n") + 1


@pytest.mark.parametrize("hands", ["hands = { load_s = 10 }\n", "hands.load_s = 10\n"])
def test_figures_written_another_way_are_changed_or_refused(hands: str) -> None:
    """Inline tables and dotted keys are changed in place; a figure that has no safe place there is refused."""
    text = hands + TEXT[TEXT.index("# The big one") :]
    new = shopfile.changed(text, {("hands", "load_s"): 12.5})
    assert tomllib.loads(new)["hands"] == {"load_s": 12.5}
    with pytest.raises(BadInput, match=r"shop\.toml.*by hand"):
        shopfile.changed(text, {("hands", "peel_s"): 5.0})


def test_a_figure_that_the_shop_could_not_have_is_refused() -> None:
    """What would make shop.toml wrong is not put in."""
    with pytest.raises(BadInput, match="do not fit"):
        shopfile.changed(TEXT, {("person", 1, "pace"): 50.0})


def slow_day(folder: Path) -> Path:
    """A planned folder whose log has every loading done three tenths later than planned, from line to line."""
    shutil.copytree(ROOT / "scenarios" / "fair-weekend", folder)
    plan_and_write(folder, "quick", None, 0, as_json=True)
    rows = read_timetable(folder / "plan" / "timetable.csv")
    offs = [row for row in rows if row.what == "unload"]
    log: list[Entry] = []
    for press in {row.press for row in offs}:
        mine = [row for row in offs if row.press == press]
        shift = timedelta(0)
        for before, row in zip([mine[0], *mine], mine, strict=False):
            hands = sum(r.seconds for r in rows if r.loading == row.loading and r.person and r.press)
            close = row.end - before.end < timedelta(minutes=5)
            shift = shift + timedelta(seconds=round(0.3 * hands)) if close else timedelta(0)
            cells = {"at": row.end + shift, "what": "done", "press": press, "pieces": row.pieces}
            log.append(Entry.model_validate(cells))
    write_log(folder, sorted(log, key=lambda e: e.at))
    return folder


def write_log(folder: Path, log: Sequence[Entry]) -> None:
    lines = [[cells_of(entry).get(name, "") for name in COLUMNS.known] for entry in log]
    (folder / "log.csv").write_text(csv_text(COLUMNS.known, lines), encoding="utf-8", newline="")


@pytest.fixture(scope="module")
def slow(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return slow_day(tmp_path_factory.mktemp("slow") / "day")


def test_learn_proposes_and_accept_writes(slow: Path, tmp_path: Path) -> None:
    """Without --accept nothing is written; with it shop.toml holds the proposed figures and its comments."""
    folder = tmp_path / "day"
    shutil.copytree(slow, folder)
    before = (folder / "shop.toml").read_text(encoding="utf-8")
    answer = CliRunner().invoke(app, ["learn", str(folder)])
    said = answer.stdout.partition("Proposed")[0]  # what follows is the diff, as long as the file's own lines
    assert said and max(map(columns, said.splitlines())) <= 80
    assert answer.exit_code == 0, answer.output
    assert "Proposed (--accept writes it):" in answer.output and "+align_s = " in answer.output
    assert (folder / "shop.toml").read_text(encoding="utf-8") == before
    answer = CliRunner().invoke(app, ["learn", str(folder), "--accept", "--json"])
    told = json.loads(answer.stdout)
    after = (folder / "shop.toml").read_text(encoding="utf-8")
    assert told["accepted"] and after != before
    old, new = (tomllib.loads(text)["hands"] for text in (before, after))
    kinds = ("load_s", "align_s", "unload_s")  # every loading has each of them: what one takes is told with the others
    assert 1.2 < sum(new[kind] for kind in kinds) / sum(old[kind] for kind in kinds) < 1.4
    assert [line for line in before.splitlines() if line.startswith("#")] == [
        line for line in after.splitlines() if line.startswith("#")
    ]
    assert not list(folder.glob(".shop-new-*"))


def test_learn_without_a_log_says_what_to_do(tmp_path: Path) -> None:
    """A folder whose log is missing is told how to begin one, with exit code 1."""
    folder = tmp_path / "day"
    shutil.copytree(ROOT / "scenarios" / "team-shirts", folder)
    assert CliRunner().invoke(app, ["learn", str(folder)]).exit_code == 1
    plan_and_write(folder, "quick", None, 0, as_json=True)
    answer = CliRunner().invoke(app, ["learn", str(folder)])
    assert answer.exit_code == 1
    assert "nothing is logged" in answer.output and "pressday log" in answer.output


def test_accept_is_refused_while_another_is_at_work(slow: Path) -> None:
    """While another thread or process holds the folder, --accept ends with code 1 and shop.toml stays as it was."""
    before = (slow / "shop.toml").read_bytes()
    codes: list[int] = []
    with locked(slow):
        asking = threading.Thread(target=lambda: codes.append(_accept(slow)))
        asking.start()
        asking.join()
    assert codes == [1]
    assert (slow / "shop.toml").read_bytes() == before


def _accept(folder: Path) -> int:
    return CliRunner().invoke(app, ["learn", str(folder), "--accept"]).exit_code
