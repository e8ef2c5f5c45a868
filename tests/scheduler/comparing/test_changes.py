"""Changes to try: what they make of a folder's day, and how a wrong one is refused."""

from __future__ import annotations

from pathlib import Path

import pytest

from models.problem import BadInput
from scheduler.comparing import changes as make
from scheduler.comparing.changes import Change, Variant, variants_of
from scheduler.comparing.commands import changes_asked
from scheduler.intake import read_day, write_starter


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """The folder that `new` writes: presses window and wall, Ada and Tomas."""
    write_starter(tmp_path / "day")
    return tmp_path / "day"


def variant(folder: Path, change: Change) -> Variant:
    """The one variant of one change."""
    (made,) = variants_of(folder, [change])
    return made


def test_a_press_is_added_like_another_with_its_people(folder: Path) -> None:
    """The new press has the other's figures, cold, at work all day, and whoever runs the other runs it."""
    shop = variant(folder, make.add_press("third=like wall")).day.shop
    old, new = shop.press[1], shop.press[2]
    assert (new.id, new.platen, new.temperature, new.away, new.at_start) == (
        "third",
        old.platen,
        old.temperature,
        (),
        None,
    )
    assert all("third" in who.presses for who in shop.person if who.presses and "wall" in who.presses)
    assert variant(folder, make.add_press("third")).day.shop.press[2].platen == shop.press[0].platen


def test_people_come_and_go(folder: Path) -> None:
    """A new person works the shop's hours at a pace of 1 unless like another; one can be left out."""
    added = variant(folder, make.add_person("cy")).day.shop.person[-1]
    assert (added.id, added.pace, added.open, added.presses) == ("cy", 1.0, None, None)
    alike = variant(folder, make.add_person("cy=tomas")).day.shop.person
    assert alike[-1] == alike[1].model_copy(update={"id": "cy"})
    assert [who.id for who in variant(folder, make.without_person("ada")).day.shop.person] == ["tomas"]


def test_without_a_press_nobody_runs_it(folder: Path) -> None:
    """The press is gone from the shop and from what people run."""
    shop = variant(folder, make.without_press("wall")).day.shop
    assert [press.id for press in shop.press] == ["window"]
    assert all("wall" not in (who.presses or ()) for who in shop.person)


def test_overtime_keeps_open_and_those_stay_who_stay_to_the_end(folder: Path) -> None:
    """The shop closes later; who goes home before closing time still does."""
    text = (folder / "shop.toml").read_text(encoding="utf-8")
    (folder / "shop.toml").write_text(text.replace('id = "tomas"', 'id = "tomas"\nclose = "12:00"'), encoding="utf-8")
    before, after = read_day(folder).shop, variant(folder, make.overtime("90")).day.shop
    assert after.hours.close == before.hours.close + 5400
    assert [who.close for who in after.person] == [None, 12 * 3600]


def test_films_paces_and_priorities(folder: Path) -> None:
    """A film's window, a person's pace and an order's priority become what was asked for, and nothing else does."""
    before = read_day(folder)
    day = variant(folder, make.film_window("low-white=250:280")).day
    assert (day.films["low-white"].temperature.lo, day.films["low-white"].temperature.hi) == (250, 280)
    assert day.shop == before.shop
    assert variant(folder, make.pace("ada=1.25")).day.people["ada"].pace == 1.25
    assert variant(folder, make.priority("1004=7")).day.orders["1004"].priority == 7
    assert [line.priority for line in before.lines if line.order == "1004"] == [1.0]


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (lambda: make.add_press("wall"), "is a press"),
        (lambda: make.add_press("x=wal"), 'Did you mean "wall"'),
        (lambda: make.add_press("a,b"), "commas"),
        (lambda: make.add_person("Ada"), "is a person"),
        (lambda: make.without_press("walls"), 'Did you mean "wall"'),
        (lambda: make.without_person("bo"), "Known"),
        (lambda: make.overtime("2000"), "to midnight"),
        (lambda: make.overtime("-5"), "to midnight"),
        (lambda: make.film_window("low-white=9000:9001"), "no press is so hot"),
        (lambda: make.film_window("low-white=300:250"), "must not be above"),
        (lambda: make.pace("ada=0"), "0.1"),
        (lambda: make.priority("1004=0"), "above 0"),
        (lambda: make.priority("9=2"), "Known"),
    ],
)
def test_a_value_that_cannot_be_is_refused_with_its_option(folder: Path, change: object, words: str) -> None:
    """A name nobody knows or a value out of bounds is a problem that names the option and says what would be right."""
    made = change()  # type: ignore[operator]
    with pytest.raises(BadInput) as error:
        variants_of(folder, [made])
    (problem,) = error.value.problems
    assert problem.file.startswith(made.option) and words in str(problem)


def test_all_that_is_wrong_is_told_at_once(folder: Path) -> None:
    """Two options that are not written right are two problems, and so are two values that cannot be."""
    with pytest.raises(BadInput) as error:
        changes_asked([(make.pace, "ada"), (make.overtime, "long"), (make.add_person, "cy")])
    assert len(error.value.problems) == 2
    with pytest.raises(BadInput) as error:
        variants_of(folder, [make.without_press("x"), make.add_person("cy"), make.pace("ada=99")])
    assert len(error.value.problems) == 2
