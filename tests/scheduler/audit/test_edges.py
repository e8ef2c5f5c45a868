"""Faults at the edges of a rule: what is only just wrong, and what only looks right."""

from __future__ import annotations

from pathlib import Path

import pytest

from models.plan import Row
from scheduler.audit import audit_rows, measure
from scheduler.audit.files import read_finish
from tests.scheduler.audit import cases
from tests.scheduler.audit.bench import GLITTER, SMOOTH, TEE, WALL, WORDS, Bench, Step, edited, make_day, moved

WARM = WALL | WORDS | {"at_start": 305}
BOX = {"film": "smooth", "box": [0, 0, 11, 5]}


def rules(day: object, rows: list[Row]) -> set[str]:
    """The names of the rules broken."""
    return {finding.rule for finding in audit_rows(day, rows)}  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("loading", 7),
        ("pieces", ("A-1-001",)),
        ("order", "A"),
        ("line", "1"),
        ("placement", "front"),
        ("operation", 1),
        ("layers", (1,)),
    ],
)
def test_a_change_belongs_to_no_loading(field: str, value: object) -> None:
    """Whatever of a loading stands on a change row is told by its column."""
    day, rows = cases.plain()
    found = audit_rows(day, edited(rows, "change", **{field: value}))
    assert [(f.rule, f"a change has no {field}" in f.message) for f in found] == [("change-row", True)]


@pytest.mark.parametrize("what", ["load", "prepress", "unload"])
def test_rows_without_layers_in_hand(what: str) -> None:
    """Load, prepress and unload may name the layers of their loading, but no others."""
    day, rows = cases.prepress()
    assert rules(day, edited(rows, what, layers=(1,))) == set()
    assert rules(day, edited(rows, what, layers=(2,))) == {"row-operation"}


def test_a_press_left_off_overnight_is_cold() -> None:
    """A press warm when planning began has fallen to the room's temperature if it is first used a day later.

    From 8:00 it stands warm until 17:00; 15 closed hours at 4 degrees a minute bring it to 72 °F.
    """
    day = make_day(presses=[WARM], lines=[{"quantity": 1}])
    cold = Bench(day).at("08:00:00", 2).change("wall", 305, "medium", 0).loading("wall", [1]).done()
    assert rules(*cold) == {"change-too-short"}
    warmed = Bench(day).at("08:00:00", 2).change("wall", 305, "medium", cases.WARM_UP).loading("wall", [1]).done()
    assert rules(*warmed) == set()


def test_a_press_stays_warm_until_the_first_evening() -> None:
    """Where the first day is no opening day, what the press shows at the start holds until the first evening."""
    hours = {"open": "08:00", "close": "17:00", "days": ["wed", "thu"]}
    day = make_day(presses=[WARM], lines=[{"quantity": 1}], hours=hours)
    bench = Bench(day).at("08:00:00", 2).change("wall", 305, "medium", 0).loading("wall", [1])
    assert rules(*bench.done()) == set()


@pytest.mark.parametrize(("hours_off", "shown"), [(15, 72.0), (0.5, 185.0)])
def test_a_short_night_leaves_some_heat(hours_off: float, shown: float) -> None:
    """Half an hour at 4 degrees a minute takes 120 of 305 degrees: from 185 a warm-up takes 288 s and settling.

    60 · (305 − 185) / 25 = 288; 60 · (305 − 72) / 25 = 559.2, up to 560.
    """
    opens, closes = ("08:00", "17:00") if hours_off == 15 else ("00:15", "23:45")
    day = make_day(presses=[WARM], lines=[{"quantity": 2}], hours={"open": opens, "close": closes})
    least = 60 + (288 if shown == 185.0 else 560)
    opening = f"{opens}:00"
    for seconds, expected in ((least, set()), (least - 1, {"change-too-short"})):
        bench = Bench(day).change("wall", 305, "medium", 0).loading("wall", [1])
        bench.at(opening, 2).change("wall", 305, "medium", seconds).loading("wall", [2])
        assert rules(*bench.done()) == expected


def repressed(between: bool) -> tuple[object, list[Row]]:
    """Front with a film to be pressed again, and back; the back's closing between the two, or after both."""
    again = SMOOTH | {"peel": "hot", "repress_s": 5, "tack_s": 8}
    plain = SMOOTH | {"id": "plain"}
    back = {"at": "back", "layer": [BOX | {"film": "plain"}]}
    day = make_day(
        presses=[WARM],
        films=[again, plain],
        placements=[{"at": "front", "layer": [BOX]}, back],
        lines=[{"quantity": 1}],
    )
    bench = Bench(day).change("wall", 305, "medium", 0).loading("wall", [1], [Step(dwell=8, wait=0, off=False)])
    if between:
        bench.loading("wall", [1], placement="back").loading("wall", [1], [Step((), dwell=5)], first=2)
    else:
        bench.loading("wall", [1], [Step((), dwell=5)], first=2).loading("wall", [1], placement="back")
    return bench.done()


def test_a_repress_comes_right_after() -> None:
    """A film to be pressed again is pressed again before anything else is pressed on the garment."""
    assert rules(*repressed(between=False)) == set()
    assert rules(*repressed(between=True)) == {"repress-missing"}


def test_press_minutes_count_once() -> None:
    """Two loadings put on in the same second after one wait: the press stood idle once.

    Both pieces' first closings open at 0:23 and 0:46 and may be peeled 60 s later, at 1:23 and 1:46. The press
    is free from 0:50. Ada peels at 1:46 and 1:50 and loads at 1:54, when Ben loads the other platen: idle while
    cooling from 0:50 to 1:46, 56 s, though each loading waits for a piece of its own for part of it.
    """
    cold = {"id": "cold", "temperature": [300, 310], "dwell_s": 5, "peel": "cold"}
    over = {"film": "cold", "box": [2, 1, 4, 2]}
    day = make_day(
        presses=[WARM | {"stations": 2, "auto_open": True}],
        films=[cold],
        placements=[{"at": "front", "layer": [BOX | {"film": "cold"}, over]}],
        people=[{"id": "ada"}, {"id": "ben"}],
    )
    bench = Bench(day).change("wall", 305, "medium", 0)
    bench.loading("wall", [1], [Step(dwell=5, wait=83)])  # load, align to :18, dwell to :23, unload to :27, peel 1:46
    bench.at("08:00:23").loading("wall", [2], [Step(dwell=5, wait=64)])  # dwell :41 to :46, unload :50, peel 1:50
    first = [(row.what, f"{row.start:%M:%S}") for row in bench.rows if row.what in ("unload", "peel")]
    assert first == [("unload", "00:23"), ("peel", "01:46"), ("unload", "00:46"), ("peel", "01:50")]
    for piece, person in ((1, "ada"), (2, "ben")):
        bench.at("08:01:54").loading("wall", [piece], [Step((2,), dwell=5, wait=60 + 20)], first=2, person=person)
    assert measure(*bench.done()).peel_wait_min == pytest.approx(56 / 60)


@pytest.mark.parametrize("name", ["=Gull", "'=Gull", "＝Gull", "－ 5", "@home", "+x", "-x", "''+x"])
def test_any_harmless_text_is_read_back(name: str, tmp_path: Path) -> None:
    """A cell carries one apostrophe before what a spreadsheet would take for a formula, and loses just that one."""
    file = tmp_path / "finish.csv"
    head = "order,customer,pieces,ready,due,finish,late_min,slack_min"
    file.write_text(f"{head}\nA,'{name},2,,,2026-12-01T08:11:46,,\n", encoding="utf-8")
    (row,) = read_finish(file).rows
    assert row.customer == name


def test_an_apostrophe_of_its_own_stays(tmp_path: Path) -> None:
    """A name that begins with an apostrophe is no formula."""
    file = tmp_path / "finish.csv"
    head = "order,customer,pieces,ready,due,finish,late_min,slack_min"
    file.write_text(f"{head}\nA,'t Huis,2,,,2026-12-01T08:11:46,,\n", encoding="utf-8")
    (row,) = read_finish(file).rows
    assert row.customer == "'t Huis"


def test_a_piece_on_two_presses_at_once() -> None:
    """A piece dressed on a second press in the second its first one opens, before it is taken off, is found."""
    day, rows = cases.two_presses()  # the fourth loading begins 10 s after the third's piece is to be taken off
    assert "piece-in-two-places" in rules(day, moved(rows, 4, -10))


def test_glitter_takes_no_medium() -> None:
    """The pressure of every film of a closing counts, not only the first one's."""
    soft = SMOOTH | {"pressure": ["medium", "firm"]}
    hard = GLITTER | {"temperature": [300, 330], "dwell_s": [15, 18]}
    day = make_day(
        presses=[WARM],
        films=[soft, hard],
        garment=TEE,
        placements=[{"at": "front", "layer": [BOX, {"film": "glitter", "box": [12, 0, 2, 2]}]}],
        lines=[{"quantity": 1}],
    )
    step = [Step((1, 2), align=16, peel=8, wait=12)]
    assert rules(*Bench(day).change("wall", 305, "firm", 0).loading("wall", [1], step).done()) == set()
    assert rules(*Bench(day).change("wall", 305, "medium", 0).loading("wall", [1], step).done()) == {"pressure"}
