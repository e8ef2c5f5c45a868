"""Names that must stand in another file, and names that stand twice."""

from __future__ import annotations

import pytest

from scheduler.intake import read_day
from scheduler.intake.findings import Findings, nearest, suggest
from scheduler.intake.references import spans

# (file, what stands there, what is written, where, field, the nearest name)
MISSPELT = [
    ("designs.toml", 'film = "smooth-navy"', 'film = "smoth-navy"', "layer 1", "film", "smooth-navy"),
    ("orders.csv", "market-tee,M,12", "markt-tee,M,12", "row 2", "garment", "market-tee"),
    ("orders.csv", "stall-front,,", "stal-front,,", "row 2", "design", "stall-front"),
    ("shop.toml", 'presses = ["wall"]', 'presses = ["Wall"]', '[[person]] 2 "tomas"', "presses", "wall"),
    ("shop.toml", "# garments = [", 'garments = ["lig-tee", ', '[[press]] 1 "window"', "garments", "league-tee"),
    ("shop.toml", "# placements = [", 'placements = ["frnt", ', '[[press]] 1 "window"', "placements", "front"),
    ("catalog.toml", '["firm"]', '["frim"]', '[[film]] 2 "glitter-gold"', "pressure", "firm"),
    ("catalog.toml", '["medium"]', '["medium", "frim"]', '[[film]] 1 "smooth-navy"', "pressure", "firm"),
    ("names.csv", "1002,1,1", "1020,1,1", "row 2", "order", "1002"),
]


@pytest.mark.parametrize("case", MISSPELT, ids=lambda case: case[2][:30])
def test_a_misspelt_name_gets_the_nearest(edit, problems, case):
    """Where the name stands, and which one it is likely to mean."""
    file, old, new, where, field, near = case
    edit(file, old, new)
    hits = [p for p in problems() if (p.file, p.field) == (file, field)]
    assert len(hits) == 1
    assert where in hits[0].where and f'"{near}"' in hits[0].right


def test_a_pressure_that_one_film_allows_beside_a_common_one_is_no_error(folder, edit):
    """A data sheet may allow a pressure that this shop never sets."""
    edit("catalog.toml", '["medium"]', '["medium", "crushing"]')
    assert read_day(folder).films["smooth-navy"].pressure == ("medium", "crushing")


def test_presses_without_pressures_take_any_word(folder, edit):
    """`pressures` left out: any word in use."""
    edit("shop.toml", 'pressures = ["light", "medium", "firm"]', "")
    edit("catalog.toml", '["firm"]', '["hard"]')
    assert "hard" in read_day(folder).press_pressures("window")


def test_a_far_off_name_gets_the_known_ones(edit, only):
    """Where nothing is near, all names there are."""
    edit("orders.csv", "market-tee,M,12", "zzz,M,12")
    assert only().right == 'Known: "market-tee", "league-tee".'


@pytest.mark.parametrize(
    ("file", "old", "new", "where"),
    [
        ("shop.toml", 'id = "wall"', 'id = "window"', "[[press]] 2"),
        ("shop.toml", 'id = "tomas"', 'id = "ADA"', "[[person]] 2"),
        ("catalog.toml", 'id = "low-white"', 'id = "glitter-gold"', "[[film]] 3"),
        ("catalog.toml", 'id = "league-tee"', 'id = "market-tee"', "[[garment]] 2"),
        ("designs.toml", 'id = "stall-chest"', 'id = "stall-front"', "[[design]] 2"),
        (
            "designs.toml",
            'at = "chest"\n    [[design.placement.layer]]\n    film = "low',
            'at = "back"\n    [[design.placement.layer]]\n    film = "low',
            '[[design]] 3 "rovers-away", placement 2',
        ),
    ],
)
def test_ids_stand_once(edit, problems, file, old, new, where):
    """The same name twice, or differing only by case, is a problem of the second."""
    edit(file, old, new)
    hits = [p for p in problems() if p.file == file and "already at number" in p.wrong]
    assert [p.where for p in hits] == [where]


def test_pieces_without_a_name_are_one_problem_a_line(folder, edit, only):
    """The missing ones are listed compactly."""
    edit("names.csv", "1002,1,1,OKAFOR,4\n", "")
    edit("names.csv", "1002,1,4,DE SOUZA,10\n1002,1,5,HALE,13\n", "")
    problem = only()
    assert problem.file == "names.csv" and '"1002"' in problem.where
    assert "pieces 1, 4-5 of 5" in problem.wrong


def test_a_missing_names_file_is_said(folder, only):
    """Personal layers without any names.csv."""
    (folder / "names.csv").unlink()
    assert "none of its 5 pieces" in only().wrong and "no names.csv" in only().wrong


def test_an_unreadable_names_file_brings_no_false_errors(folder, only):
    """One problem for the file, none for the pieces it may well name."""
    (folder / "names.csv").write_bytes(b"\x00")
    assert "NUL" in only().wrong


@pytest.mark.parametrize(("numbers", "text"), [([1], "1"), ([1, 2, 3, 7], "1-3, 7"), ([2, 4, 5], "2, 4-5"), ([], "")])
def test_spans(numbers, text):
    """Runs of numbers are written as runs."""
    assert spans(numbers) == text


def test_nearest_forgives_case():
    """Case does not keep a name from being found, and the likest comes first."""
    assert nearest("LEAGUE-TE", ["market-tee", "league-tee"])[0] == "league-tee"


def test_nearest_in_a_long_list():
    """Thousands of names are searched among those that begin or end alike."""
    assert nearest("order-1x", [f"order-{n}" for n in range(5000)])


def test_suggest_without_anything_known():
    """With nothing to choose from, the advice is to write one down."""
    assert suggest("a", [], "press") == "There is no press yet; write one down first."


def test_the_same_problem_counts_once():
    """A name that is wrong in one place is one problem, however often it is looked at."""
    found = Findings()
    for _ in range(2):
        found.add("shop.toml", "", "name", "x", "wrong", "right")
    assert len(found) == 1
