"""The starter folder: commented, sound, and never over something that is there."""

from __future__ import annotations

import re
import tomllib
from datetime import datetime
from pathlib import Path

import pytest

from models.catalog import Film, Garment
from models.design import Layer, Placement
from models.order import NameRow, OrderLine
from models.problem import BadInput
from models.shop import Person, Press, Shop
from scheduler.intake import read_day, write_starter
from scheduler.intake.columns import NAMES, ORDERS
from scheduler.intake.findings import FILES


@pytest.mark.parametrize(
    "now", [datetime(2026, 12, 1, 7), datetime(2026, 12, 5, 16, 59), datetime(2027, 2, 28, 23, 59)]
)
@pytest.mark.parametrize("spreadsheet", [False, True])
def test_the_starter_reads_back_whenever_it_is_written(tmp_path, now, spreadsheet):
    """No problems, and every due time lies after the start of planning."""
    written = write_starter(tmp_path / "a" / "b", now, spreadsheet)
    day = read_day(tmp_path / "a" / "b", now)
    assert [p.name for p in written] == [*day.inputs, "columns.txt"]
    assert all(line.due > day.start for line in day.lines if line.due)
    assert any(line.due for line in day.lines)


def test_it_reads_back_years_later(tmp_path):
    """A late order is no problem, and the start is left out."""
    write_starter(tmp_path, datetime(2026, 12, 1))
    assert read_day(tmp_path, datetime(2031, 1, 1, 9)).start == datetime(2031, 1, 1, 9)


@pytest.mark.parametrize("name", [*FILES, "columns.txt"])
def test_nothing_is_written_over_a_day(tmp_path, name):
    """Any day file in the folder stops it, and nothing changes."""
    (tmp_path / name).write_text("mine")
    with pytest.raises(BadInput) as caught:
        write_starter(tmp_path)
    assert [p.file for p in caught.value.problems] == [name]
    assert [p.name for p in tmp_path.iterdir()] == [name]
    assert (tmp_path / name).read_text() == "mine"


def test_other_files_in_the_folder_are_left_alone(tmp_path):
    """A folder with notes in it may become a day folder."""
    (tmp_path / "notes.txt").write_text("mine")
    assert len(write_starter(tmp_path)) == 6
    assert (tmp_path / "notes.txt").read_text() == "mine"


def test_a_file_in_the_folders_place_is_bad_input(tmp_path):
    """A path that cannot become a folder is a problem with it."""
    (tmp_path / "day").write_text("mine")
    with pytest.raises(BadInput) as caught:
        write_starter(tmp_path / "day")
    assert "cannot be written" in caught.value.problems[0].wrong


@pytest.mark.parametrize(
    ("file", "models"),
    [
        ("shop.toml", (Shop, Press, Person)),
        ("catalog.toml", (Film, Garment)),
        ("designs.toml", (Placement, Layer)),
    ],
)
def test_every_field_is_shown(folder, file, models):
    """A person finds each field of the contract in the starter, set or behind a comment sign."""
    text = (folder / file).read_text()
    shown = {line.lstrip("# ").split(" =")[0] for line in text.splitlines() if " =" in line}
    shown |= {
        line.split("#")[0].strip(" []").split(".")[-1] for line in text.splitlines() if line.strip().startswith("[")
    }
    inherited = {"days", "breaks", "close"} if file == "shop.toml" else set()
    for model in models:
        assert set(model.model_fields) - shown - inherited == set()


@pytest.mark.parametrize("file", ["shop.toml", "catalog.toml", "designs.toml"])
def test_every_field_is_explained_where_it_first_stands(folder, file):
    """Beside the first mention of each field stands what it means, also where the field itself is commented out."""
    seen, bare = set(), []
    for line in (folder / file).read_text().splitlines():
        field = re.match(r"\s*(?:# )?([a-z_]+) = (.*)", line)
        if field and field[1] not in seen:
            seen.add(field[1])
            bare += [] if re.search(r"# \S+ ?\S*", field[2]) else [line]
    assert len(seen) > 5 and bare == []


def test_columns_are_explained_as_in_the_readme(folder):
    """columns.txt tells every column of both tables, with the meaning and unit that README.md gives it."""
    text = (folder / "columns.txt").read_text(encoding="utf-8")
    readme = (Path(__file__).parents[3] / "README.md").read_text(encoding="utf-8")
    for head, columns, model in (("### orders.csv", ORDERS, OrderLine), ("### names.csv", NAMES, NameRow)):
        assert list(columns) == list(model.model_fields)
        part = readme.split(head)[1].split("###")[0]
        rows = (row.split("|") for row in part.splitlines() if row.startswith("|"))
        told = {cells[1].strip(" `"): cells for cells in rows}
        for name, column in columns.items():
            assert column.meaning in told[name][4].replace("`", "")
            assert (told[name][3].strip() == "needed") == (column.blank == "")
            assert f"  {name:<10}{column.words}\n" in text


def test_every_setting_of_the_first_press_has_a_comment(folder):
    """Each line of the first [[press]] says what it means."""
    text = (folder / "shop.toml").read_text()
    block = text.split("[[press]]")[1].strip().splitlines()
    plain = [line for line in block if "#" not in line]
    assert len(plain) <= 1, plain
    assert tomllib.loads(text)["press"][0]["id"] == "window"
