"""The starter folder: commented, sound, and never over something that is there."""

from __future__ import annotations

import tomllib
from datetime import datetime

import pytest

from models.catalog import Film, Garment
from models.design import Layer, Placement
from models.problem import BadInput
from models.shop import Person, Press, Shop
from scheduler.intake import read_day, write_starter
from scheduler.intake.findings import FILES


@pytest.mark.parametrize(
    "now", [datetime(2026, 12, 1, 7), datetime(2026, 12, 5, 16, 59), datetime(2027, 2, 28, 23, 59)]
)
def test_the_starter_reads_back_whenever_it_is_written(tmp_path, now):
    """No problems, and every due time lies after the start of planning."""
    written = write_starter(tmp_path / "a" / "b", now)
    day = read_day(tmp_path / "a" / "b", now)
    assert [p.name for p in written] == list(day.inputs)
    assert all(line.due > day.start for line in day.lines if line.due)
    assert any(line.due for line in day.lines)


def test_it_reads_back_years_later(tmp_path):
    """A late order is no problem, and the start is left out."""
    write_starter(tmp_path, datetime(2026, 12, 1))
    assert read_day(tmp_path, datetime(2031, 1, 1, 9)).start == datetime(2031, 1, 1, 9)


@pytest.mark.parametrize("name", FILES)
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
    assert len(write_starter(tmp_path)) == 5
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


def test_every_setting_of_the_first_press_has_a_comment(folder):
    """Each line of the first [[press]] says what it means."""
    text = (folder / "shop.toml").read_text()
    block = text.split("[[press]]")[1].strip().splitlines()
    plain = [line for line in block if "#" not in line]
    assert len(plain) <= 1, plain
    assert tomllib.loads(text)["press"][0]["id"] == "window"
