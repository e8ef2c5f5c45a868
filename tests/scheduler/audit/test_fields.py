"""Every field of a day that binds a timetable is looked at: tightened by itself, it makes right rows wrong."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from pydantic import BaseModel

from models.catalog import Film, Garment
from models.day import Day
from models.design import Layer, Placement
from models.order import OrderLine
from models.shop import Hands, Hours, Person, Press, Room, Rules, Shop, Units
from scheduler.audit import audit_rows
from tests.scheduler.audit import cases
from tests.scheduler.audit.bench import SMOOTH, TEE, WALL, WORDS, Bench, Step, make_day

BOX = {"film": "smooth", "box": [0, 0, 11, 5]}
WARM = WALL | WORDS | {"at_start": 305}
ONE = [{"quantity": 1}]


def side_by_side() -> cases.Case:
    """Two layers half an inch apart go down in one closing."""
    beside = {"film": "smooth", "box": [11.5, 0, 3, 5]}
    day = make_day(presses=[WARM], placements=[{"at": "front", "layer": [BOX, beside]}], lines=ONE)
    step = Step((1, 2), align=16, peel=8, wait=12)
    return Bench(day).change("wall", 305, "medium", 0).loading("wall", [1], [step]).done()


def cooling_down() -> cases.Case:
    """20 degrees down at 4 a minute: 300 s, and 60 to settle."""
    hot = {"id": "hot", "temperature": 325, "dwell_s": 15, "peel": "warm"}
    layers = [BOX, {"film": "hot", "box": [12, 0, 2, 2]}]
    press = WARM | {"at_start": 325}
    day = make_day(presses=[press], films=[SMOOTH, hot], placements=[{"at": "front", "layer": layers}], lines=ONE)
    bench = Bench(day).change("wall", 325, "medium", 0).loading("wall", [1], [Step((2,))])
    return bench.change("wall", 305, "medium", 360).loading("wall", [1], first=2).done()


def runs_over() -> cases.Case:
    """A dwell of 15 s that opens 3 s late."""
    day = make_day(presses=[WARM], films=[SMOOTH | {"dwell_s": 15}], lines=ONE)
    return Bench(day).change("wall", 305, "medium", 0).loading("wall", [1], [Step(dwell=18)]).done()


def dotted() -> cases.Case:
    """Three dots are 392 °F at most, and 200 °C."""
    day = make_day(presses=[WARM], garment={"id": "tee", "iron": 3}, lines=ONE)
    return Bench(day).change("wall", 305, "medium", 0).loading("wall", [1]).done()


def outlined() -> cases.Case:
    """Art with an outline, 11 wide."""
    layer = {"film": "smooth", "outline": [[0, 0], [11, 0], [11, 5], [0, 5]]}
    day = make_day(presses=[WARM], placements=[{"at": "front", "layer": [layer]}], lines=ONE)
    return Bench(day).change("wall", 305, "medium", 0).loading("wall", [1]).done()


MODELS: dict[str, type[BaseModel]] = {
    "film": Film,
    "garment": Garment,
    "press": Press,
    "person": Person,
    "layer": Layer,
    "placement": Placement,
    "line": OrderLine,
    "hours": Hours,
    "room": Room,
    "hands": Hands,
    "rules": Rules,
    "units": Units,
    "shop": Shop,
}

# Fields that bind no row: names and texts, what the intake checks, what only weighs, what only warns.
FREE: dict[str, set[str]] = {
    "film": {"id", "kind", "cover_sheet", "roll"},
    "garment": {"id", "fabric"},
    "press": {"id"},
    "person": {"id"},
    "layer": {"personal"},
    "placement": set(),
    "line": {"customer", "size", "due", "priority"},
    "hours": set(),
    "room": set(),
    "hands": set(),
    "rules": {"many_layers"},
    "units": {"length"},
    "shop": {"name", "start", "goals", "spread"} | {"units", "hours", "room", "hands", "rules", "press", "person"},
}

# Model, field, case, a tighter value, the rule that then is broken.
TIGHTER: list[tuple[str, str, Callable[[], cases.Case], Any, str]] = [
    ("film", "temperature", cases.plain, [306, 315], "set-point"),
    ("film", "dwell_s", cases.plain, [16, 18], "dwell-length"),
    ("film", "pressure", cases.plain, ["firm"], "pressure"),
    ("film", "peel", cases.plain, "cold", "peel-early"),
    ("film", "peel_after_s", cases.plain, [7, 30], "peel-early"),
    ("film", "peel_below", cases.cold, 99, "peel-early"),
    ("film", "top_only", cases.one_press_both, True, "top-only"),
    ("film", "tack_s", cases.one_press_both, 6, "dwell-length"),
    ("film", "reheat_max", cases.one_press_both, 321, "set-point"),
    ("film", "reheats", cases.one_press_both, 0, "reheats"),
    ("film", "repress_s", cases.plain, 5, "repress-missing"),
    ("film", "carrier", side_by_side, 0.51, "carrier"),
    ("film", "align_s", cases.plain, 8.1, "hand-time"),
    ("film", "peel_hand_s", cases.plain, 4.1, "hand-time"),
    ("garment", "max_temperature", cases.plain, 304, "set-point"),
    ("garment", "iron", cases.plain, 2, "set-point"),
    ("garment", "prepress_s", cases.plain, 4, "prepress-missing"),
    ("garment", "load_s", cases.plain, 10.1, "hand-time"),
    ("garment", "unload_s", cases.plain, 4.1, "hand-time"),
    ("garment", "cooling_tau_s", cases.cold, 31, "peel-early"),
    ("garment", "footprint", cases.gang, [9.1, 11], "platen-count"),
    ("press", "platen", cases.plain, [10.9, 10.9], "platen"),
    ("press", "stations", cases.two_stations, 1, "stations"),
    ("press", "temperature", cases.plain, [306, 430], "press-range"),
    ("press", "heat_up", cases.plain, 24.9, "change-too-short"),
    ("press", "cool_down", cooling_down, 3.9, "change-too-short"),
    ("press", "heating", cases.measured, {"ceiling": 519, "tau_min": 22}, "change-too-short"),
    ("press", "cooling", cases.measured, {"tau_min": 60.5}, "change-too-short"),
    ("press", "settle_s", cases.plain, 61, "change-too-short"),
    ("press", "at_start", cases.plain, 71, "change-too-short"),
    ("press", "auto_open", cases.auto_open, False, "late-opening"),
    ("press", "pressures", cases.plain, ["firm"], "press-pressure"),
    ("press", "pressure_change_s", cases.one_press_both, 31, "change-too-short"),
    ("press", "garments", cases.plain, ["hoodie"], "press-garment"),
    ("press", "placements", cases.plain, ["back"], "press-placement"),
    ("press", "away", cases.plain, [["2026-12-01T08:11", "2026-12-01T08:12"]], "press-away"),
    ("person", "presses", cases.plain, ["window"], "person-press"),
    ("person", "open", cases.plain, "08:10:21", "person-hours"),
    ("person", "close", cases.plain, "08:11:45", "person-hours"),
    ("person", "days", cases.plain, ["mon"], "person-hours"),
    ("person", "breaks", cases.plain, [["08:11", "08:12"]], "person-break"),
    ("person", "away", cases.plain, [["2026-12-01T08:11", "2026-12-01T08:12"]], "person-away"),
    ("person", "pace", cases.plain, 1.01, "hand-time"),
    ("layer", "film", cases.one_press_both, "glitter", "set-point"),
    ("layer", "box", side_by_side, [0, 0, 11.6, 5], "layer-order"),
    ("layer", "outline", outlined, [[0, 0], [17, 0], [17, 17], [0, 17]], "platen"),
    ("layer", "align_s", cases.plain, 8.1, "hand-time"),
    ("placement", "at", cases.plain, "back", "unknown-placement"),
    ("placement", "size", cases.plain, [17, 17], "platen"),
    ("placement", "layer", cases.plain, [BOX, BOX], "layer-missing"),
    ("line", "order", cases.plain, "B", "unknown-piece"),
    ("line", "line", cases.plain, "2", "unknown-piece"),
    ("line", "quantity", cases.plain, 3, "piece-missing"),
    ("line", "ready", cases.plain, "2026-12-01T08:10:21", "before-ready"),
    ("hours", "open", cases.plain, 8 * 3600 + 1, "change-hours"),
    ("hours", "close", cases.plain, 8 * 3600 + 11 * 60, "shop-hours"),
    ("hours", "days", cases.plain, ["mon"], "shop-hours"),
    ("hours", "breaks", cases.plain, [["08:11", "08:12"]], "over-break"),
    ("room", "temperature", cases.plain, 71, "change-too-short"),
    ("hands", "load_s", cases.plain, 10.1, "hand-time"),
    ("hands", "align_s", cases.plain, 8.1, "hand-time"),
    ("hands", "unload_s", cases.plain, 4.1, "hand-time"),
    ("hands", "peel_s", cases.plain, 4.1, "hand-time"),
    ("rules", "late_open_s", runs_over, 2, "dwell-length"),
    ("rules", "rack", cases.cold, 1, "rack"),
    ("units", "temperature", dotted, "C", "set-point"),
]

# What stands for the whole of something else, tested with a second garment and a second design.
ELSEWHERE = {("line", "garment"), ("line", "design")}


def tightened(day: Day, model: str, field: str, value: Any) -> Day:
    """The day with the field changed in its first film, garment, press ... of the kind."""
    if model in ("film", "garment"):
        return replace(day, catalog=_first_changed(day.catalog, model, field, value))
    if model in ("press", "person"):
        return replace(day, shop=_first_changed(day.shop, model, field, value))
    if model == "line":
        return replace(day, lines=(_changed(day.lines[0], field, value), *day.lines[1:]))
    if model in ("layer", "placement"):
        return replace(day, designs=day.designs.model_copy(update={"design": (_design(day, model, field, value),)}))
    part = _changed(getattr(day.shop, model), field, value)
    return replace(day, shop=day.shop.model_copy(update={model: part}))


def _design(day: Day, model: str, field: str, value: Any) -> Any:
    design = day.designs.design[0]
    if model == "placement":
        return _first_changed(design, "placement", field, value)
    place = _first_changed(design.placement[0], "layer", field, value)
    return design.model_copy(update={"placement": (place, *design.placement[1:])})


def _first_changed(whole: Any, name: str, field: str, value: Any) -> Any:
    first, *rest = getattr(whole, name)
    return whole.model_copy(update={name: (_changed(first, field, value), *rest)})


def _changed(part: Any, field: str, value: Any) -> Any:
    return type(part).model_validate(part.model_dump() | {field: value})


@pytest.mark.parametrize(
    ("model", "field", "case", "value", "rule"), TIGHTER, ids=[f"{model}.{field}" for model, field, *_ in TIGHTER]
)
def test_every_field_counts(model: str, field: str, case: Callable[[], cases.Case], value: Any, rule: str) -> None:
    """Right rows stay right until one field is tightened, and then break just the rule of that field."""
    day, rows = case()
    assert audit_rows(day, rows) == []
    found = {finding.rule for finding in audit_rows(tightened(day, model, field, value), rows)}
    assert rule in found, found


@pytest.mark.parametrize("model", MODELS)
def test_no_field_is_forgotten(model: str) -> None:
    """A field added to a model has to be tightened here, or be named as one that binds no row."""
    held = {field for name, field, *_ in TIGHTER if name == model} | {f for m, f in ELSEWHERE if m == model}
    assert held | FREE[model] == set(MODELS[model].model_fields)
    assert not held & FREE[model]


def test_a_line_of_another_garment_and_design() -> None:
    """What a line is made of is looked up by its own garment and design."""
    day, rows = cases.plain()
    tender = Garment.model_validate(TEE | {"id": "silk", "max_temperature": 304})
    lines = tuple(line.model_copy(update={"garment": "silk"}) for line in day.lines)
    silk = replace(day, lines=lines, catalog=day.catalog.model_copy(update={"garment": (*day.catalog.garment, tender)}))
    assert {finding.rule for finding in audit_rows(silk, rows)} == {"set-point"}
    other = day.designs.design[0].model_copy(
        update={"id": "other", "placement": side_by_side()[0].designs.design[0].placement}
    )
    lines = tuple(line.model_copy(update={"design": "other"}) for line in day.lines)
    both = replace(day, lines=lines, designs=day.designs.model_copy(update={"design": (*day.designs.design, other)}))
    assert {finding.rule for finding in audit_rows(both, rows)} == {"layer-missing"}
