"""A day folder becomes a Day, or every problem at once."""

from __future__ import annotations

import hashlib
import os
import subprocess
import sys
from datetime import datetime

import pytest

from models.problem import BadInput
from scheduler.intake import read_day

NOW = datetime(2026, 12, 1, 7, 0)


def test_a_sound_folder_becomes_a_day(folder):
    """What stands in the files stands in the day."""
    day = read_day(folder, NOW)
    assert list(day.presses) == ["window", "wall"]
    assert day.people["tomas"].presses == ("wall",)
    assert [line.quantity for line in day.lines] == [12, 8, 5, 6, 10]
    assert day.films["low-white"].dwell_s.single
    assert [row.name for row in day.names][-1] == "HALE"


def test_inputs_are_fingerprints_of_every_file_read(folder):
    """Day.inputs holds the sha256 of each file's bytes, the log's too."""
    (folder / "log.csv").write_bytes(b"at,what\n")
    day = read_day(folder, NOW)
    names = {"shop.toml", "catalog.toml", "designs.toml", "orders.csv", "names.csv", "log.csv"}
    assert dict(day.inputs) == {n: hashlib.sha256((folder / n).read_bytes()).hexdigest() for n in names}


@pytest.mark.parametrize(
    ("now", "start"),
    [
        (datetime(2026, 12, 1, 7, 0), datetime(2026, 12, 1, 8, 0)),
        (datetime(2026, 12, 1, 9, 30, 15), datetime(2026, 12, 1, 9, 30, 15)),
        (datetime(2026, 12, 5, 17, 0), datetime(2026, 12, 7, 8, 0)),  # Saturday evening: Monday
    ],
)
def test_without_a_start_planning_begins_at_the_next_opening(folder, now, start):
    """`start` left out: the next opening from now."""
    assert read_day(folder, now).start == start


def test_a_given_start_holds(folder, edit):
    """`start` is taken as it stands."""
    edit("shop.toml", '# start = "2026-12-01T08:00"', 'start = "2026-12-03 9:15"')
    assert read_day(folder, NOW).start == datetime(2026, 12, 3, 9, 15)


def test_all_problems_of_all_files_come_at_once(edit, problems):
    """One reading names what is wrong in every file."""
    edit("shop.toml", "heat_up = 25", "heat_up = -25")
    edit("shop.toml", "pace = 1.0", "pace = 100")
    edit("catalog.toml", 'peel = "warm"', 'peel = "worm"')
    edit("designs.toml", "box = [0, 0, 10, 5]", "box = [0, 0, 10]")
    edit("orders.csv", "M,12", "M,twelve")
    edit("names.csv", "1002,1,3", "1002,1,2")
    files = [p.file for p in problems()]
    assert files == sorted(files, key=["shop.toml", "catalog.toml", "designs.toml", "orders.csv", "names.csv"].index)
    assert set(files) == {"shop.toml", "catalog.toml", "designs.toml", "orders.csv", "names.csv"}
    assert files.count("shop.toml") == 2


def test_a_broken_file_does_not_hide_the_others(edit, problems):
    """A TOML file that cannot be decoded leaves the rest to be looked at, without false follow-on errors."""
    edit("catalog.toml", "[[film]]", "[[film")
    edit("shop.toml", "pace = 1.0", "pace = 100")
    assert [p.file for p in problems()] == ["shop.toml", "catalog.toml"]


def test_a_wrong_item_still_counts_as_known(edit, only):
    """A film that is wrong otherwise is still a film that layers may name."""
    edit("catalog.toml", "dwell_s = [10, 15]", "dwell_s = [10, 15, 20]")
    assert only().where == '[[film]] 1 "smooth-navy"'


@pytest.mark.parametrize("name", ["shop.toml", "catalog.toml", "designs.toml", "orders.csv"])
def test_a_missing_file_is_a_problem(folder, problems, name):
    """Each file that must be there is missed by name."""
    (folder / name).unlink()
    assert any(p.file == name and "no such file" in p.wrong for p in problems())


def test_a_file_under_a_like_name_is_pointed_at(folder, only):
    """Orders.csv is not orders.csv: the problem says what to rename."""
    (folder / "orders.csv").rename(folder / "Orders.csv")
    assert only().right == "Rename Orders.csv to orders.csv."


@pytest.mark.parametrize("name", ["shop.toml", "orders.csv", "names.csv", "log.csv"])
def test_a_folder_in_place_of_a_file_is_a_problem(folder, problems, name):
    """A directory where a file should be is named, not stumbled on."""
    (folder / name).unlink(missing_ok=True)
    (folder / name).mkdir()
    assert any(p.file == name and "this is a folder" in p.wrong for p in problems())


def test_a_pipe_in_place_of_a_file_does_not_hang(folder, problems):
    """What is no ordinary file is refused before it is opened."""
    (folder / "shop.toml").unlink()
    os.mkfifo(folder / "shop.toml")
    assert "not an ordinary file" in problems()[0].wrong


def test_a_broken_link_is_a_missing_file(folder, only):
    """A link that leads nowhere is said to be no file."""
    (folder / "names.csv").unlink()
    (folder / "names.csv").symlink_to(folder / "nowhere.csv")
    assert "no such file" in only().wrong


@pytest.mark.skipif(os.geteuid() == 0, reason="root may read every file, so a missing permission cannot be shown")
def test_a_file_without_permission_is_a_problem(folder, problems):
    """A file that may not be read says so."""
    (folder / "shop.toml").chmod(0)
    assert "permission" in problems()[0].wrong


def test_permission_refused_by_the_system_is_a_problem(folder, problems, monkeypatch):
    """As above where tests run as root: the system's refusal is put in its place."""
    from pathlib import Path

    def refuse(self, *args, **kwargs):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "open", refuse)
    assert {p.file for p in problems()} >= {"shop.toml", "catalog.toml", "designs.toml", "orders.csv", "names.csv"}


def test_both_kinds_of_orders_are_a_problem(folder, only):
    """orders.csv and orders.xlsx together: there is no telling which holds."""
    (folder / "orders.xlsx").write_bytes(b"anything")
    assert only().file == "orders.xlsx"


@pytest.mark.parametrize("bad", ["missing", "a-file", "nul\0name"])
def test_a_folder_that_is_none_is_bad_input(tmp_path, bad):
    """A path that leads to no folder is a problem with the path."""
    (tmp_path / "a-file").write_text("")
    with pytest.raises(BadInput) as caught:
        read_day(tmp_path / bad)
    assert caught.value.problems[0].wrong


def test_a_file_beyond_the_size_limit_is_refused(folder, problems):
    """More than 20 MB is no day's file."""
    with (folder / "orders.csv").open("wb") as stream:
        stream.truncate(21_000_000)
    assert any(p.file == "orders.csv" and "20 MB" in p.wrong for p in problems())


def test_importing_the_room_loads_no_data_frame():
    """`pressday --help` must answer without pandas, openpyxl or shapely."""
    code = "import sys, scheduler.intake; print([m for m in ('pandas', 'openpyxl', 'shapely') if m in sys.modules])"
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert ran.stdout.strip() == "[]"
