"""Timetables with one thing wrong, and the rule that names it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import timedelta

import pytest

from models.day import Day
from models.plan import Row
from scheduler.audit import audit_rows
from tests.scheduler.audit import cases
from tests.scheduler.audit.bench import (
    GLITTER,
    SMOOTH,
    START,
    TEE,
    WALL,
    WORDS,
    Bench,
    Step,
    edited,
    find,
    in_order,
    make_day,
    moved,
    shifted,
    without,
)

Spoil = Callable[[list[Row]], list[Row]]


def every(rows: list[Row], what: str | None = None, loading: int | None = None, **changes: object) -> list[Row]:
    """The rows with all of a kind, or of a loading, changed."""
    return [
        replace(r, **changes)  # type: ignore[arg-type]
        if (what is None or r.what == what) and (loading is None or r.loading == loading)
        else r
        for r in rows
    ]


def delayed(rows: list[Row], moment: int, seconds: int) -> list[Row]:
    """Everything from a second after 8 on comes later; a row under way at it lasts longer."""
    at, by = START + timedelta(seconds=moment), timedelta(seconds=seconds)
    return [replace(r, start=r.start + by * (r.start >= at), end=r.end + by * (r.end > at)) for r in rows]


def swapped_layers(rows: list[Row]) -> list[Row]:
    """Every row's layer 1 becomes 2 and the other way round."""
    return [replace(r, layers=tuple(3 - n for n in r.layers)) for r in rows]


def no_loading(rows: list[Row], number: int) -> list[Row]:
    """The rows without one loading."""
    return [row for row in rows if row.loading != number]


# case, what is spoiled, how, the rule that finds it
WRONG: list[tuple[str, str, Spoil, str]] = [
    ("plain", "a dwell opens a second early", lambda r: shifted(r, "dwell", 1, 0, -1), "dwell-length"),
    ("plain", "closed too long", lambda r: delayed(r, 645, 5), "dwell-length"),
    ("plain", "loading before the warm-up ends", lambda r: moved(r, 1, -1), "change-under-loading"),
    ("plain", "unknown person", lambda r: edited(r, "load", person="zoe"), "unknown-person"),
    ("plain", "nobody loads", lambda r: edited(r, "load", person=None), "person-missing"),
    ("plain", "somebody dwells", lambda r: edited(r, "dwell", person="ada"), "person-unwanted"),
    ("plain", "unknown press", lambda r: every(r, loading=1, press="door"), "unknown-press"),
    ("plain", "a lost piece", lambda r: no_loading(r, 2), "piece-missing"),
    ("plain", "unknown piece", lambda r: every(r, loading=2, pieces=("A-1-009",)), "unknown-piece"),
    ("plain", "a piece twice in a loading", lambda r: every(r, loading=2, pieces=("A-1-002",) * 2), "piece-twice"),
    ("plain", "a doubled piece", lambda r: every(r, loading=2, pieces=("A-1-001",)), "layer-twice"),
    ("plain", "wrong order", lambda r: every(r, loading=2, order="B"), "wrong-line"),
    ("plain", "pieces differ in a loading", lambda r: edited(r, "unload", pieces=("A-1-002",)), "loading-mixed"),
    ("plain", "presses differ in a loading", lambda r: edited(r, "unload", press="door"), "loading-mixed"),
    ("plain", "unknown placement", lambda r: every(r, loading=1, placement="hem"), "unknown-placement"),
    ("plain", "unknown layer", lambda r: every(r, "dwell", layers=(2,)), "layer-unknown"),
    ("plain", "the layer is missing", lambda r: every(r, "dwell", layers=()), "layer-missing"),
    ("plain", "the peel tells other layers", lambda r: edited(r, "peel", layers=(2,)), "row-operation"),
    ("plain", "the load tells another operation", lambda r: edited(r, "load", operation=2), "row-operation"),
    ("prepress", "the prepress tells another", lambda r: edited(r, "prepress", operation=2), "row-operation"),
    ("prepress", "a prepress too many", lambda r: every(r, loading=2, placement="front"), "prepress-unwanted"),
    ("repress", "a repress is peeled", lambda r: peel_again(r), "peel-unwanted"),
    ("repress", "a repress nobody wants", lambda r: every(r, "dwell", layers=()), "repress-unwanted"),
    ("plain", "a loading without pieces", lambda r: every(r, loading=2, pieces=()), "unknown-piece"),
    ("plain", "a press is named nowhere", lambda r: edited(r, "change", press=None), "unknown-press"),
    ("plain", "operations count from 2", lambda r: every(r, "dwell", operation=2), "operation-number"),
    ("plain", "no loading number", lambda r: edited(r, "unload", loading=None), "loading-number"),
    ("plain", "loading 0", lambda r: zero(r), "loading-number"),
    ("plain", "never unloaded", lambda r: without(r, "unload"), "loading-grammar"),
    ("plain", "never laid", lambda r: without(r, "align"), "align-missing"),
    ("plain", "never peeled", lambda r: without(r, "peel"), "peel-missing"),
    ("plain", "peeled twice", lambda r: in_order([*r, r[find(r, "peel")]]), "peel-unwanted"),
    ("plain", "peeled early", lambda r: shifted(r, "peel", 1, -2, -2), "peel-early"),
    ("plain", "peeled a second late", lambda r: shifted(r, "peel", 2, 25, 25), "peel-late"),
    ("plain", "peeled before unloaded", lambda r: shifted(r, "peel", 1, -4, -4), "piece-in-two-places"),
    ("plain", "the change is a second short", lambda r: shifted(r, "change", 1, 1, 0), "change-too-short"),
    ("plain", "no warm-up", lambda r: without(r, "change"), "warm-up-missing"),
    ("plain", "wrong set-point", lambda r: every(r, temperature=316), "set-point"),
    ("plain", "rows tell another set-point", lambda r: every(r, loading=2, temperature=306), "setting-differs"),
    ("plain", "rows tell no set-point", lambda r: every(r, "dwell", temperature=None), "setting-missing"),
    ("plain", "a change to nothing", lambda r: edited(r, "change", temperature=None), "setting-missing"),
    ("plain", "wrong pressure", lambda r: every(r, pressure="firm"), "pressure"),
    ("plain", "a pressure the press lacks", lambda r: every(r, pressure="light"), "press-pressure"),
    ("plain", "a set-point beyond the press", lambda r: every(r, temperature=431), "press-range"),
    ("plain", "half degrees", lambda r: every(r, temperature=305.5), "whole-degrees"),
    ("plain", "loaded in a second less", lambda r: shifted(r, "load", 1, 1, 0), "hand-time"),
    ("plain", "peeled in a second more", lambda r: shifted(r, "peel", 2, 0, 1), "hand-time"),
    ("plain", "opened late", lambda r: delayed_unload(r), "late-opening"),
    ("plain", "a gap before closing", lambda r: delayed(r, 638, 2), "late-closing"),
    ("plain", "rows within a loading overlap", lambda r: shifted(r, "align", 1, -1, -1), "loading-overlap"),
    ("plain", "before planning begins", lambda r: moved(r, 1, -621), "before-start"),
    ("plain", "a row ends before its start", lambda r: shifted(r, "peel", 2, 0, -9), "row-times"),
    ("plain", "half seconds", lambda r: half_second(r), "row-times"),
    ("plain", "rows out of order", lambda r: [r[-1], *r[:-1]], "row-order"),
    ("plain", "over the shop's break", lambda r: moved(r, 2, 3 * 3600 + 49 * 60), "over-break"),
    ("plain", "hands in their break", lambda r: moved(r, 2, 3 * 3600 + 49 * 60), "person-break"),
    ("plain", "after closing time", lambda r: moved(r, 2, 9 * 3600), "shop-hours"),
    ("plain", "hands after closing time", lambda r: moved(r, 2, 9 * 3600), "person-hours"),
    ("plain", "a change before the shop opens", lambda r: shifted(r, "change", 1, -60, 0), "change-hours"),
    ("plain", "beyond two weeks", lambda r: moved(r, 2, 15 * 86_400), "beyond-horizon"),
    ("plain", "the next day without warm-up", lambda r: moved(r, 2, 86_400), "warm-up-missing"),
    ("plain", "a person in two places", lambda r: moved(r, 2, -5), "person-in-two-places"),
    ("plain", "two loadings on one station", lambda r: moved(r, 2, -15), "stations"),
    ("two_presses", "layers swapped", swapped_layers, "layer-order"),
    ("two_presses", "tacked as long as alone", lambda r: delayed(r, 640, 10), "dwell-length"),
    ("two_presses", "taken up before its peel", lambda r: moved(r, 2, -3), "peel-before-next"),
    ("two_presses", "hotter than the film below stands", lambda r: hotter(r, "window", 331), "set-point"),
    ("two_presses", "a loading without its second operation", lambda r: no_loading(r, 4), "layer-missing"),
    ("one_press_both", "the change is a second short", lambda r: shifted(r, "change", 2, 1, 0), "change-too-short"),
    ("one_press_both", "a loading stands under the change", lambda r: moved(r, 3, -40), "change-under-loading"),
    ("one_press_both", "no change between", lambda r: without(r, "change", 2), "set-point"),
    (
        "one_press_both",
        "a change to the same again",
        lambda r: edited(r, "change", 2, temperature=305, pressure="medium"),
        "change-idle",
    ),
    ("one_press_both", "changes overlap", lambda r: shifted(r, "change", 2, -200, -200), "change-overlap"),
    ("two_stations", "three loadings on two stations", lambda r: moved(r, 3, -10), "stations"),
    ("two_stations", "two closings at once", lambda r: moved(r, 2, -4), "press-overlap"),
    ("two_stations", "slow hands in a quick one's time", lambda r: every(r, loading=2, person="ada"), "hand-time"),
    ("auto_open", "the first peel missing", lambda r: without(r, "peel"), "peel-missing"),
    ("auto_open", "peeled on the press too early", lambda r: shifted(r, "peel", 1, -3, -3), "peel-early"),
    ("auto_open", "both layers in one closing", lambda r: together(r), "layer-order"),
    ("gang", "five on a platen for four", lambda r: five(r), "platen-count"),
    ("gang", "hands as for one", lambda r: shifted(r, "load", 1, 36, 0), "hand-time"),
    ("cold", "peeled a second before it is cool", lambda r: shifted(r, "peel", 1, -1, -1), "peel-early"),
    ("repress", "no repress", lambda r: no_repress(r), "repress-missing"),
    ("repress", "pressed again too long", lambda r: delayed(r, 34, 5), "dwell-length"),
    ("repress", "peeled a second late, so opened late", lambda r: delayed(r, 26, 1), "late-opening"),
    ("prepress", "no prepress", lambda r: no_prepress(r), "prepress-missing"),
    ("prepress", "prepressed too long", lambda r: delayed(r, 12, 3), "prepress-length"),
    ("two_days", "before it is ready", lambda r: moved(r, 1, -3600), "before-ready"),
    ("two_days", "a cool press called warm", lambda r: shifted(r, "change", 2, 60, 0), "change-too-short"),
    ("celsius", "a degree over two dots", lambda r: every(r, temperature=151), "set-point"),
    ("measured", "the press cools a second too fast", lambda r: shifted(r, "change", 2, 1, 0), "change-too-short"),
    ("measured", "the press heats a second too fast", lambda r: shifted(r, "change", 1, 1, 0), "change-too-short"),
]


def zero(rows: list[Row]) -> list[Row]:
    """Loading 1 is called 0."""
    return [replace(r, loading=0) if r.loading == 1 else r for r in rows]


def delayed_unload(rows: list[Row]) -> list[Row]:
    """Hands come a second after the press opens."""
    return shifted(rows, "unload", 1, 1, 1)


def peel_again(rows: list[Row]) -> list[Row]:
    """A peel stands between a repress and its unload."""
    dwell = rows[find(rows, "dwell", 2)]
    return in_order([*rows, replace(dwell, start=dwell.end, end=dwell.end, what="peel", person="ada")])


def half_second(rows: list[Row]) -> list[Row]:
    """The last row ends half a second later."""
    return [*rows[:-1], replace(rows[-1], end=rows[-1].end + timedelta(milliseconds=500))]


def hotter(rows: list[Row], press: str, temperature: int) -> list[Row]:
    """One press is set to another temperature throughout."""
    return [replace(r, temperature=temperature) if r.press == press else r for r in rows]


def together(rows: list[Row]) -> list[Row]:
    """Both layers lie in each first closing; the second closing is left out."""
    return [replace(r, layers=(1, 2) if r.layers else ()) for r in rows if r.operation != 2]


def five(rows: list[Row]) -> list[Row]:
    """A fifth piece comes into the first loading."""
    return [replace(r, pieces=(*r.pieces, "A-1-005")) if r.loading == 1 else r for r in rows]


def no_repress(rows: list[Row]) -> list[Row]:
    """The second closings are left out."""
    return [r for r in rows if not (r.what == "dwell" and r.operation == 2)]


def no_prepress(rows: list[Row]) -> list[Row]:
    """The prepresses are left out."""
    return [r for r in rows if r.what != "prepress"]


@pytest.mark.parametrize(("case", "spoil", "rule"), [(c, s, r) for c, _, s, r in WRONG], ids=[w[1] for w in WRONG])
def test_a_wrong_timetable_is_named(case: str, spoil: Spoil, rule: str) -> None:
    """Each fault put into a right timetable is found under its own rule, at a place in the file."""
    day, rows = cases.GOOD[case]()
    found = audit_rows(day, spoil(rows))
    assert rule in {finding.rule for finding in found}, found
    assert all(finding.message and "timetable.csv" in finding.where for finding in found)


def rules(day: Day, rows: list[Row]) -> set[str]:
    """The names of the rules broken."""
    return {finding.rule for finding in audit_rows(day, rows)}


AWAY = ["2026-12-01T08:11", "2026-12-01T09:00"]

# The rows of a right timetable held against a day that allows less: what is changed, and the rule.
OTHER_DAYS: list[tuple[str, dict[str, object], str]] = [
    ("one piece more is ordered", {"lines": [{"quantity": 3}]}, "piece-missing"),
    ("one piece fewer is ordered", {"lines": [{"quantity": 1}]}, "unknown-piece"),
    ("ready later", {"lines": [{"ready": "2026-12-01T08:10:21"}]}, "before-ready"),
    ("not trained for the press", {"people": [{"id": "ada", "presses": ["b"]}]}, "person-press"),
    ("comes later", {"people": [{"id": "ada", "open": "08:10:21"}]}, "person-hours"),
    ("works on Mondays only", {"people": [{"id": "ada", "days": ["mon"]}]}, "person-hours"),
    ("has a break", {"people": [{"id": "ada", "breaks": [["08:10:30", "08:40"]]}]}, "person-break"),
    ("is away", {"people": [{"id": "ada", "away": [AWAY]}]}, "person-away"),
    ("the press is away", {"presses": [WALL | WORDS | {"away": [AWAY]}]}, "press-away"),
    ("closed on Tuesdays", {"hours": {"days": ["mon", "wed"]}}, "shop-hours"),
    ("the press takes hoodies", {"presses": [WALL | WORDS | {"garments": ["hoodie"]}]}, "press-garment"),
    ("the press takes sleeves", {"presses": [WALL | WORDS | {"placements": ["sleeve"]}]}, "press-placement"),
    ("the platen is small", {"presses": [WALL | WORDS | {"platen": [16, 4.5]}]}, "platen"),
    ("the garment stands less", {"garment": TEE | {"max_temperature": 304.9}}, "set-point"),
    ("the garment has two dots", {"garment": TEE | {"iron": 2}}, "set-point"),
    ("the press heats more slowly", {"presses": [WALL | WORDS | {"heat_up": 24}]}, "change-too-short"),
    ("the press starts colder", {"presses": [WALL | WORDS | {"at_start": 70}]}, "change-too-short"),
    ("the garment is prepressed", {"garment": TEE | {"prepress_s": 4}}, "prepress-missing"),
    ("the film is pressed again", {"films": [SMOOTH | {"repress_s": 5}]}, "repress-missing"),
    ("the film is exact", {"films": [SMOOTH | {"temperature": 306}]}, "set-point"),
    ("the film is peeled cold", {"films": [SMOOTH | {"peel": "cold"}]}, "peel-early"),
    ("the film is peeled hot", {"films": [SMOOTH | {"peel": "hot"}]}, "peel-late"),
    ("the film has a peel window", {"films": [SMOOTH | {"peel_after_s": [7, 20]}]}, "peel-early"),
    ("the hands are slower", {"hands": {"align_s": 9}}, "hand-time"),
    ("the film takes longer to peel", {"films": [SMOOTH | {"peel_hand_s": 4.2}]}, "hand-time"),
]


@pytest.mark.parametrize(("given", "rule"), [(g, r) for _, g, r in OTHER_DAYS], ids=[o[0] for o in OTHER_DAYS])
def test_the_same_rows_on_a_stricter_day(given: dict[str, object], rule: str) -> None:
    """Rows that suit one day are wrong on a day that allows less, and the rule names why."""
    _, rows = cases.plain()
    assert rule in rules(make_day(**given), rows)  # type: ignore[arg-type]


def test_nothing_on_top_of_a_top_only_film() -> None:
    """Art laid over a film that nothing may lie on is found."""
    _, rows = cases.one_press_both()
    day = make_day(films=[SMOOTH | {"tack_s": 5, "top_only": True}, GLITTER], placements=[_two_layers(cases.OVER)])
    assert rules(day, rows) == {"top-only"}


def test_films_stand_only_so_many_reheats_on_any_placement() -> None:
    """A later closing on another placement counts: films that stand no reheat make the front wrong, not the back."""
    _, rows = cases.prepress()
    day, _ = cases.prepress()
    film = day.films["smooth"].model_copy(update={"reheats": 0})
    strict = replace(day, catalog=day.catalog.model_copy(update={"film": (film,)}))
    found = audit_rows(strict, rows)
    assert [finding.rule for finding in found] == ["reheats"]
    assert "row 6" in found[0].where and "2 pieces" in found[0].message


def test_reheat_limits_count_on_any_placement() -> None:
    """A film on the front limits the set-point of the back."""
    day, rows = cases.prepress()
    film = day.films["smooth"].model_copy(update={"reheat_max": 304})
    strict = replace(day, catalog=day.catalog.model_copy(update={"film": (film,)}))
    assert {f.rule for f in audit_rows(strict, rows)} == {"set-point"}
    assert "already on the garment" in audit_rows(strict, rows)[0].message


def _two_layers(second: dict[str, object]) -> dict[str, object]:
    return {"at": "front", "layer": [{"film": "smooth", "box": [0, 0, 11, 5]}, second]}


def _in_one_closing(films: list[dict[str, object]], second: dict[str, object]) -> set[str]:
    """The rules broken where two layers go down together at 305, medium, 15 seconds, peeled after 12."""
    day = make_day(
        presses=[WALL | WORDS | {"at_start": 305}],
        films=films,
        placements=[_two_layers(second)],
        lines=[{"quantity": 1}],
    )
    bench = Bench(day).change("wall", 305, "medium", 0)
    return rules(*bench.loading("wall", [1], [Step((1, 2), align=16, peel=8, wait=12)]).done())


BESIDE = {"film": "other", "box": [11, 0, 3, 5]}  # its edge touches the first layer's


@pytest.mark.parametrize(
    ("change", "box", "expected"),
    [
        ({}, [11, 0, 3, 5], set()),
        ({}, [10.99, 0, 3, 5], {"layer-order"}),
        ({"carrier": 0.5}, [11.5, 0, 3, 5], set()),
        ({"carrier": 0.5}, [11.4, 0, 3, 5], {"carrier"}),
        ({"temperature": [316, 320]}, [12, 0, 3, 5], {"windows-apart", "set-point"}),
        ({"dwell_s": [19, 20]}, [12, 0, 3, 5], {"windows-apart", "dwell-length"}),
        ({"pressure": "firm"}, [12, 0, 3, 5], {"windows-apart", "pressure"}),
        ({"peel": "cold", "peel_after_s": [10, 40]}, [12, 0, 3, 5], {"windows-apart"}),
        ({"peel_after_s": [31, 40]}, [12, 0, 3, 5], {"windows-apart", "peel-early"}),
    ],
)
def test_layers_that_share_a_closing(change: dict[str, object], box: list[float], expected: set[str]) -> None:
    """Layers go down together only if they don't overlap, lie under no carrier, and agree in all windows."""
    other = SMOOTH | {"id": "other"} | change
    assert _in_one_closing([SMOOTH, other], {"film": "other", "box": box}) == expected


@pytest.mark.parametrize(("x", "expected"), [(12.3, {"carrier"}), (12.5, set())])
def test_the_carrier_of_an_outline_reaches_all_round(x: float, expected: set[str]) -> None:
    """An outline's carrier reaches as far as the shortest distance: at a corner 1, 1 away that is 1.41."""
    other = SMOOTH | {"id": "other", "carrier": 2.0}
    outline = [[x, 6.5], [x + 2, 6.5], [x + 2, 9], [x, 9]]  # 1.3 or 1.5 right of the box's corner and 1.5 above it
    assert _in_one_closing([SMOOTH, other], {"film": "other", "outline": outline}) == expected


def test_no_more_closings_than_others_need() -> None:
    """A piece whose layers go down one by one, where its neighbour's go down together, is found."""
    day = make_day(
        presses=[WALL | WORDS | {"at_start": 305}], placements=[_two_layers({"film": "smooth", "box": [12, 0, 3, 5]})]
    )
    bench = Bench(day).change("wall", 305, "medium", 0)
    bench.loading("wall", [1], [Step((1, 2), align=16, peel=8)])
    bench.loading("wall", [2], [Step((1,))]).loading("wall", [2], [Step((2,))], first=2)
    found = audit_rows(*bench.done())
    told = [(f.rule, "2 closings" in f.message) for f in found]
    assert told == [("more-operations", True), ("fewest-operations", True)]


def test_the_rack_holds() -> None:
    """Two pieces cooling at once are one too many for a rack of one."""
    assert rules(*cases.cold(rack=1)) == {"rack"}


def test_where_and_numbers_are_told() -> None:
    """A finding names row, loading, press, what was found and what would be right."""
    day, rows = cases.plain()
    (finding,) = audit_rows(day, shifted(rows, "peel", 2, 0, 1))
    assert finding.where == "timetable.csv row 12, loading 2"
    assert finding.message == "peel lasts 5 s; right: 4 s (1 × 4 s)"
    by_press = audit_rows(day, shifted(rows, "dwell", 1, 0, -1))
    assert by_press[0].where == 'timetable.csv row 5, loading 1, press "wall"'
    assert by_press[0].message == 'closed for 14 s; film "smooth" 15 to 18 s'


def test_no_more_than_two_hundred_findings() -> None:
    """Of many findings two hundred are told and the rest counted, and no rule crowds out another."""
    day = make_day(lines=[{"quantity": 300}])
    bench = Bench(day).change("wall", 305, "medium", cases.WARM_UP)
    for piece in range(1, 301):
        bench.loading("wall", [piece], [Step(dwell=15 if piece < 300 else 30)], load=11)
    found = audit_rows(*bench.done())
    assert len(found) == 201
    assert "more findings" in found[-1].message
    assert {"hand-time", "dwell-length", "more"} <= {finding.rule for finding in found}
