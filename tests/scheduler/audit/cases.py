"""Good days, each with its timetable written by hand."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from models.day import Day
from models.plan import Row
from tests.scheduler.audit.bench import GLITTER, SMOOTH, TEE, WALL, WORDS, Bench, Step, make_day

Case = tuple[Day, list[Row]]

WARM_UP = 620  # 72 to 305 °F at 25 a minute: 559.2 s, up to 560, and 60 to settle
OVER = {"film": "glitter", "box": [2, 1, 4, 2]}  # lies on the smooth box


def plain(**given: Any) -> Case:
    """One press, two pieces, peeled warm off the press."""
    bench = Bench(make_day(**given)).change("wall", 305, "medium", WARM_UP)
    return bench.loading("wall", [1]).loading("wall", [2]).done()


def two_presses() -> Case:
    """Smooth at 305 on one press, glitter over it at 322 and firm on the other."""
    tacked = SMOOTH | {"tack_s": 5, "reheat_max": 330, "reheats": 1}
    window = WALL | WORDS | {"id": "window", "at_start": 322}
    day = make_day(
        presses=[WALL | WORDS, window],
        films=[tacked, GLITTER | {"top_only": True}],
        placements=[{"at": "front", "layer": [{"film": "smooth", "box": [0, 0, 11, 5]}, OVER]}],
    )
    bench = Bench(day).change("wall", 305, "medium", WARM_UP).at("08:00:00").change("window", 322, "firm", 0)
    bench.at("08:10:20")
    for piece in (1, 2):
        bench.loading("wall", [piece], [Step(dwell=5)])
        bench.loading("window", [piece], [Step(layers=(2,))], first=2)
    return bench.done()


def one_press_both() -> Case:
    """The same two films on one press: all smooth first, one change, then all glitter."""
    day = make_day(
        films=[SMOOTH | {"tack_s": 5}, GLITTER],
        placements=[{"at": "front", "layer": [{"film": "smooth", "box": [0, 0, 11, 5]}, OVER]}],
    )
    bench = Bench(day).change("wall", 305, "medium", WARM_UP)
    bench.loading("wall", [1], [Step(dwell=5)]).loading("wall", [2], [Step(dwell=5)])
    bench.change("wall", 322, "firm", 131)  # 17 degrees at 25 a minute: 40.8 s, up to 41; settle 60; pressure 30
    return bench.loading("wall", [1], [Step((2,))], first=2).loading("wall", [2], [Step((2,))], first=2).done()


def two_stations() -> Case:
    """Two lower platens: one is dressed while the other is under heat. Two people, one twice as slow."""
    day = make_day(
        presses=[WALL | WORDS | {"stations": 2, "at_start": 305}],
        people=[{"id": "ada"}, {"id": "ben", "pace": 2}],
        lines=[{"quantity": 3}],
    )
    bench = Bench(day).change("wall", 305, "medium", 0)
    bench.loading("wall", [1])  # 8:00:00 load, :10 align, :18 dwell, :33 unload, :39 peel, to :43
    slow = {"person": "ben", "load": 20, "unload": 8}
    bench.at("08:00:00").loading("wall", [2], [Step(align=16, peel=8, wait=8)], **slow)  # dwell :36 to :51
    return bench.at("08:00:43").loading("wall", [3]).done()  # dwell at 1:01


def auto_open() -> Case:
    """A press that opens by itself: two closings in one loading, the first peeled on it after 7 seconds."""
    day = make_day(
        presses=[WALL | WORDS | {"at_start": 305, "auto_open": True}],
        films=[SMOOTH | {"tack_s": 5}, SMOOTH | {"id": "smooth-gold"}],
        placements=[
            {"at": "front", "layer": [{"film": "smooth", "box": [0, 0, 11, 5]}, OVER | {"film": "smooth-gold"}]}
        ],
    )
    bench = Bench(day).change("wall", 305, "medium", 0)
    for piece in (1, 2):
        bench.loading("wall", [piece], [Step((1,), dwell=5, wait=7, off=False), Step((2,), wait=9)])
    return bench.done()


def gang() -> Case:
    """Four pieces of 9 × 11 on a platen of 23 × 18, on their sides: every hand row four times as long."""
    day = make_day(
        presses=[WALL | WORDS | {"platen": [23, 18], "at_start": 305}],
        garment=TEE | {"footprint": [9, 11], "load_s": 12, "unload_s": 3},
        lines=[{"quantity": 6}],
    )
    bench = Bench(day).change("wall", 305, "medium", 0)
    bench.loading("wall", [1, 2, 3, 4], [Step(align=32, peel=16, wait=20)], load=48, unload=12)
    return bench.loading("wall", [5, 6], [Step(align=16, peel=8, wait=10)], load=24, unload=6).done()


def cold(rack: int = 2) -> Case:
    """Cold peel below 100 °F, tau 30 s in a room of 72: 30 ln(233/28) = 63.6, so 64 seconds."""
    film = SMOOTH | {"peel": "cold", "peel_below": 100}
    day = make_day(
        presses=[WALL | WORDS | {"at_start": 305}],
        films=[film],
        garment=TEE | {"cooling_tau_s": 30},
        rules={"rack": rack},
    )
    bench = Bench(day).change("wall", 305, "medium", 0)
    bench.loading("wall", [1], [Step(wait=64)])  # dwell 8:00:18 to :33, peel 1:37
    bench.at("08:00:40").loading("wall", [2], [Step(wait=70)])
    return bench.done()


def repress() -> Case:
    """Hot peel at once on the press, then five seconds again under a cover sheet."""
    film = SMOOTH | {"peel": "hot", "repress_s": 5, "dwell_s": 10, "tack_s": 8, "cover_sheet": True}
    day = make_day(presses=[WALL | WORDS | {"at_start": 305}], films=[film])
    bench = Bench(day).change("wall", 305, "medium", 0)
    for piece in (1, 2):
        bench.loading("wall", [piece], [Step(dwell=8, wait=0, off=False), Step((), dwell=5)])
    return bench.done()


def prepress() -> Case:
    """Four seconds of prepress first on each placement, in its loading; front and back on one press."""
    back = {"at": "back", "size": [12, 10], "layer": [{"film": "smooth", "box": [0, 0, 11, 5]}]}
    day = make_day(
        presses=[WALL | WORDS | {"at_start": 305}],
        garment=TEE | {"prepress_s": [3, 5]},
        placements=[{"at": "front", "layer": [{"film": "smooth", "box": [0, 0, 11, 5]}]}, back],
    )
    bench = Bench(day).change("wall", 305, "medium", 0)
    for piece in (1, 2):
        bench.loading("wall", [piece], prepress=4).loading("wall", [piece], placement="back", prepress=3)
    return bench.done()


def two_days() -> Case:
    """Up to the evening, round the break, and on the next day: from the room's temperature again."""
    day = make_day(lines=[{"quantity": 3, "ready": "2026-12-01T11:00"}], people=[{"id": "ada", "close": "16:59"}])
    bench = Bench(day).at("11:40:00").change("wall", 305, "medium", WARM_UP)
    bench.at("11:59:00").loading("wall", [1]).at("12:30:00").loading("wall", [2])
    bench.at("08:00:00", 2).change("wall", 305, "medium", WARM_UP).loading("wall", [3])
    return bench.done()


def celsius() -> Case:
    """Celsius and centimetres; two iron dots are 150 °C at most, and 150 is allowed (ISO 3758)."""
    film = {"id": "smooth", "temperature": [149, 157], "dwell_s": [15, 18], "peel": "warm"}
    press = {"id": "wall", "platen": [40, 50], "temperature": [100, 220], "heat_up": 16, "cool_down": 2}
    day = make_day(
        presses=[press],
        films=[film],
        garment={"id": "tee", "iron": 2},
        placements=[{"at": "front", "layer": [{"film": "smooth", "outline": [[0, 0], [28, 0], [28, 12], [0, 12]]}]}],
        units={"temperature": "C", "length": "cm"},
    )
    bench = Bench(day).change("wall", 150, "medium", 480)  # 22 to 150 at 16 a minute: 480 s
    return bench.loading("wall", [1]).loading("wall", [2]).done()


def measured() -> Case:
    """Measured responses: 22 min · ln(448/195) = 1098 s up to 325, 60 min · ln(253/233) = 297 s down to 305."""
    press = WALL | {"heating": {"ceiling": 520, "tau_min": 22}, "cooling": {"tau_min": 60}}
    del press["heat_up"], press["cool_down"]
    hot = {"id": "hot", "temperature": 325, "dwell_s": 10, "peel": "hot"}
    day = make_day(
        presses=[press],
        films=[SMOOTH, hot],
        placements=[
            {"at": "front", "layer": [{"film": "smooth", "box": [0, 0, 5, 5]}, {"film": "hot", "box": [6, 0, 5, 5]}]}
        ],
        lines=[{"quantity": 1}],
    )
    bench = Bench(day).change("wall", 325, "medium", 1158)  # 1320 · ln(448/195) = 1097.97, up to 1098, and 60 to settle
    bench.loading("wall", [1], [Step((2,), dwell=10, wait=4)])
    bench.change("wall", 305, "medium", 357)  # 3600 · ln(253/233) = 296.5, up to 297, and 60 to settle
    return bench.loading("wall", [1], first=2).done()


GOOD: dict[str, Callable[[], Case]] = {
    case.__name__: case
    for case in (
        plain,
        two_presses,
        one_press_both,
        two_stations,
        auto_open,
        gang,
        cold,
        repress,
        prepress,
        two_days,
        celsius,
        measured,
    )
}
