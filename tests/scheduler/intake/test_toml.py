"""TOML files: what cannot be decoded has its line and column, what is wrong has its table and field."""

from __future__ import annotations

import pytest
from pydantic import BaseModel

from models.catalog import Catalog
from models.design import Designs
from models.order import NameRow, OrderLine
from models.shop import Shop
from scheduler.intake import hints
from scheduler.intake.words import _models_in


@pytest.mark.parametrize(
    ("text", "where"),
    [
        ("a = 1\nb = = 2\n", "line 2, column 5"),
        ("a = 1\na = 2\n", "line 2, column 6"),
        ('a = "open\n', "line 1, column 10"),
        ("a = [1, 2\n", "end of file"),
        ("a = 1\n\x00", "line 2, column 1"),
        ("a = 2026-02-30\n", "line 1, column 5"),
    ],
)
def test_what_cannot_be_decoded_has_its_place(folder, only, text, where):
    """TOML's own place is given, with the line that stands there."""
    (folder / "shop.toml").write_text(text)
    assert (only().file, only().where) == ("shop.toml", where)
    assert "TOML" in only().wrong and only().right


@pytest.mark.parametrize(
    ("data", "wrong"),
    [
        (b"\xef\xbb\xbfname = 'a'\n", "byte order mark"),
        ("name = 'a'".encode("utf-16"), "UTF-16"),
        (b"name = 'caf\xe9'\n", "not UTF-8"),
        (b"a = " + b"[" * 100_000, "too deep"),
        (b"a = " + b"9" * 5000, "cannot be read as TOML"),
        (b".".join([b"a"] * 5000) + b" = 1\n", "no such key"),
    ],
)
def test_bytes_that_are_no_toml_are_problems(folder, problems, data, wrong):
    """TOML v1.0: a file is UTF-8. Marks, other encodings and monstrous nesting are named."""
    (folder / "shop.toml").write_bytes(data)
    every = problems()
    assert any(wrong in p.wrong or "too deep" in p.wrong for p in every), every
    assert all(p.file == "shop.toml" for p in every)


# (file, what stands there, what is written instead, where, field, wrong, right): each of pydantic's kinds of error.
CASES = [
    (
        "shop.toml",
        "platen = [16, 20]",
        "platten = [16, 20]",
        '[[press]] 1 "window"',
        "platten",
        "no such key",
        "platen",
    ),
    (
        "shop.toml",
        "platen = [16, 20]",
        "platen = [16]",
        '[[press]] 1 "window"',
        "platen, item 2",
        "too short",
        "inches",
    ),
    ("shop.toml", "platen = [16, 20]", "platen = [1, 2, 3]", '[[press]] 1 "window"', "platen", "more than 2", "inches"),
    ("shop.toml", "platen = [16, 20]", "platen = 16", '[[press]] 1 "window"', "platen", "list", "[16, 20]"),
    (
        "shop.toml",
        "platen = [16, 20]",
        "platen = [0, 20]",
        '[[press]] 1 "window"',
        "platen, item 1",
        "above 0 in",
        "inch",
    ),
    ("shop.toml", "heat_up = 25", 'heat_up = "25"', '[[press]] 1 "window"', "heat_up", "a number", "°F a minute"),
    ("shop.toml", "heat_up = 25", "heat_up = true", '[[press]] 1 "window"', "heat_up", "a number", "°F a minute"),
    ("shop.toml", "heat_up = 25", "heat_up = inf", '[[press]] 1 "window"', "heat_up", "infinite", "°F a minute"),
    ("shop.toml", "heat_up = 25", "heat_up = 1e999", '[[press]] 1 "window"', "heat_up", "infinite", "°F a minute"),
    ("shop.toml", "heat_up = 25", "heat_up = 0", '[[press]] 1 "window"', "heat_up", "above 0 °F", "°F a minute"),
    ("shop.toml", "heat_up = 25", "# none", '[[press]] 1 "window"', "", "exactly one", "heating = { ceiling"),
    ("shop.toml", "stations = 1", "stations = 1.5", '[[press]] 1 "window"', "stations", "whole number", "1 to 6"),
    ("shop.toml", "stations = 1", "stations = 7", '[[press]] 1 "window"', "stations", "at most 6", "1 to 6"),
    (
        "shop.toml",
        "auto_open = false",
        'auto_open = "no"',
        '[[press]] 1 "window"',
        "auto_open",
        "true or false",
        "false",
    ),
    ("shop.toml", "[200, 430]", "[430, 200]", '[[press]] 1 "window"', "temperature", "must not be above", "[200, 430]"),
    ("shop.toml", 'temperature = "F"', 'temperature = "f"', "[units]", "temperature", "'F' or 'C'", 'mean "F"'),
    ("shop.toml", 'open = "08:00"', 'open = "8 am"', "[hours]", "open", "no time of day", "08:00"),
    ("shop.toml", 'open = "08:00"', 'open = "18:00"', "[hours]", "open", "before close", ""),
    ("shop.toml", '["12:00", "12:30"]', '["12:30", "12:00"]', "[hours]", "breaks, item 1", "come before", "pairs"),
    ("shop.toml", '"mon", "tue"', '"mon", "teu"', "[hours]", "days, item 2", "must be", "tue"),
    ("shop.toml", "[units]", "start = 1\n[units]", "", "start", "no local date", "2026-12-01T08:00"),
    ("shop.toml", 'id = "ada"', 'id = ""', '[[person]] 1 ""', "id", "not be empty", "short name"),
    ("shop.toml", 'id = "ada"', f'id = "{"a" * 81}"', None, "id", "longer than 80", "short name"),
    ("shop.toml", 'id = "ada"', 'id = "a;b"', '[[person]] 1 "a;b"', "id", "semicolons", "short name"),
    ("shop.toml", 'id = "ada"', 'id = "-ada"', '[[person]] 1 "-ada"', "id", "must not start with", "short name"),
    ("shop.toml", 'id = "ada"', "id = 7", "[[person]] 1", "id", "text in quotes", "short name"),
    ("catalog.toml", "dwell_s = 12", "dwell_s = [12]", '[[film]] 3 "low-white"', "dwell_s", "neither", "1 to 7200"),
    ("catalog.toml", "dwell_s = 12", "", '[[film]] 3 "low-white"', "dwell_s", "missing", "dwell_s = [15, 18]"),
    ("catalog.toml", "[5, 30]", "[30, 5]", '[[film]] 1 "smooth-navy"', "peel_after_s", "above the latest", ""),
    ("catalog.toml", "iron = 3", "iron = 4", '[[garment]] 1 "market-tee"', "iron", "1, 2 or 3", "dots"),
    ("catalog.toml", "iron = 3", "iron = true", '[[garment]] 1 "market-tee"', "iron", "1, 2 or 3", "dots"),
    ("catalog.toml", "prepress_s = 3", "prepress_s = 1e300", '[[garment]] 2 "league-tee"', "prepress_s", "600", "600"),
    (
        "designs.toml",
        "box = [0, 0, 10, 5]",
        "",
        '[[design]] 1 "stall-front", placement 1 "front", layer 1',
        "",
        "exactly one",
        "outline",
    ),
]


@pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case[2][:24] or 'left out'} for {case[1][:20]}")
def test_what_is_wrong_is_said_in_the_shops_words(edit, problems, case):
    """Every kind of error says where it stands, what is wrong and what would be right."""
    file, old, new, where, field, wrong, right = case
    edit(file, old, new)
    hits = [p for p in problems() if p.file == file and p.field == field and wrong in p.wrong]
    assert len(hits) == 1, "\n".join(map(str, problems()))
    assert where is None or hits[0].where == where
    assert right in hits[0].right


@pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case[2][:24] or 'left out'} for {case[1][:20]}")
def test_no_message_speaks_pydantic(edit, problems, case):
    """No message falls through to the library's own English."""
    edit(*case[:3])
    for problem in problems():
        assert not any(word in problem.wrong for word in ("Input should", "Field required", "Extra inputs", "valid "))


def test_whole_numbers_may_have_a_point(folder, edit):
    """settle_s = 60.0 is sixty seconds."""
    from scheduler.intake import read_day

    edit("shop.toml", "settle_s = 60", "settle_s = 60.0")
    assert read_day(folder).presses["window"].settle_s == 60


def test_one_pair_of_brackets_for_several_is_explained(folder, problems):
    """[press] for [[press]] is the slip everybody makes."""
    text = (folder / "shop.toml").read_text()
    head, _, _ = text.partition("[[press]]")
    (folder / "shop.toml").write_text(f'{head}[press]\nid = "a"\n')
    assert any("two pairs of brackets" in p.wrong for p in problems())


def _tables(model: type[BaseModel]) -> dict[str, type[BaseModel]]:
    inner = [m for f in model.model_fields.values() for m in _models_in(f.annotation)]
    return {m.__name__.casefold(): m for m in inner} | {k: v for m in inner for k, v in _tables(m).items()}


def test_every_field_has_its_hint():
    """No field of the models is without a word on what would be right, and no hint is for a field gone."""
    models: dict[str, type[BaseModel]] = {"shop": Shop, "catalog": Catalog, "designs": Designs}
    for top in (Shop, Catalog, Designs):
        models |= _tables(top)
    wanted = {f"{name}.{field}" for name, model in models.items() for field in model.model_fields}
    wanted |= {f"row.{field}" for field in OrderLine.model_fields} | {
        f"named.{field}" for field in NameRow.model_fields
    }
    assert set(hints.RIGHT) == wanted


@pytest.mark.parametrize("units", [("F", "in"), ("C", "cm")])
def test_hints_speak_the_shops_units(units):
    """No placeholder is left, and degrees are the shop's own."""
    other = "°C" if units[0] == "F" else "°F"
    for key in hints.RIGHT:
        text = hints.right(*key.split("."), units)
        assert "{t}" not in text and "{l}" not in text and "{field}" not in text and "{room}" not in text
        assert other not in text
