"""Where things stand at a moment, on a plan small enough to reckon by hand."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from models.log import Entry
from models.shop import Press
from scheduler.logbook.state import State, state_at
from tests.scheduler.breakdown.days import PRESS
from tests.scheduler.logbook.cases import DAY, ROWS, line
from tests.scheduler.output.planned import at, loading, row


def stand(minutes: float, *log: Entry) -> State:
    """Where things stand so many minutes after eight."""
    return state_at(DAY, ROWS, log, at(minutes))


def told(state: State, *names: str) -> list[tuple[str, int]]:
    """Status and last operation done of pieces of G1 (all three unless named)."""
    pieces = [state.pieces[name] for name in names or ("G1-1-001", "G1-1-002", "G1-1-003")]
    return [(piece.status, piece.done["front"]) for piece in pieces]


@pytest.mark.parametrize(
    ("minutes", "states"),
    [
        (0, [("waiting", 0), ("waiting", 0), ("waiting", 0)]),
        (10, [("in hand", 0), ("waiting", 0), ("waiting", 0)]),
        (10.8, [("in hand", 1), ("waiting", 0), ("waiting", 0)]),
        (11, [("waiting", 1), ("in hand", 0), ("waiting", 0)]),
        (12.9, [("waiting", 1), ("waiting", 1), ("in hand", 0)]),
        (13, [("waiting", 1), ("waiting", 1), ("cooling", 0)]),
        (13.9, [("waiting", 1), ("waiting", 1), ("cooling", 0)]),
        (14, [("waiting", 1), ("waiting", 1), ("waiting", 1)]),
        (21.5, [("finished", 2), ("in hand", 1), ("waiting", 1)]),
        (23, [("finished", 2), ("finished", 2), ("finished", 2)]),
    ],
)
def test_without_a_log_the_plan_is_what_happened(minutes: float, states: list[tuple[str, int]]) -> None:
    """What the plan said would be over by then is done, to the second."""
    assert told(stand(minutes)) == states


LOGS: dict[str, tuple[list[Entry], float, list[tuple[str, int]]]] = {
    "under the press when it goes down": (
        [line(11.6, "down", press="window")],
        30,
        [("waiting", 1), ("waiting", 0), ("waiting", 0)],
    ),
    "opened before it went down": (
        [line(11.8, "down", press="window")],
        30,
        [("waiting", 1), ("waiting", 1), ("waiting", 0)],
    ),
    "opened that very second": (
        [line(11.75, "down", press="window")],
        30,
        [("waiting", 1), ("waiting", 1), ("waiting", 0)],
    ),
    "the log says it is done": (
        [line(11.6, "down", press="window"), line(11.9, "done", press="window")],
        12.1,
        [("waiting", 1), ("waiting", 1), ("waiting", 0)],
    ),
    "up again in time for the next": (
        [line(11.6, "down", press="window"), line(11.9, "up", press="window")],
        30,
        [("finished", 2), ("waiting", 0), ("finished", 2)],
    ),
    "up by itself": (
        [line(11.6, "down", 11.9, press="window")],
        30,
        [("finished", 2), ("waiting", 0), ("finished", 2)],
    ),
    "another press": ([line(11.6, "down", press="wall")], 30, [("finished", 2)] * 3),
    "later than the moment": (
        [line(11.6, "down", press="window")],
        11.5,
        [("waiting", 1), ("in hand", 0), ("waiting", 0)],
    ),
    "who dresses is away": ([line(11, "absent", person="ada")], 30, [("waiting", 1), ("waiting", 0), ("waiting", 0)]),
    "begun before somebody left": (
        [line(11.1, "absent", 12, person="ada")],
        30,
        [("finished", 2), ("finished", 2), ("finished", 2)],
    ),
    "back before it begins": (
        [line(11, "absent", person="ben"), line(12, "back", person="ben")],
        30,
        [("finished", 2), ("waiting", 0), ("finished", 2)],
    ),
    "spoiled after its first": (
        [line(11.5, "spoiled", pieces=[1])],
        30,
        [("spoiled", 0), ("finished", 2), ("finished", 2)],
    ),
    "spoiled after its last": (
        [line(25, "spoiled", pieces=[3])],
        30,
        [("finished", 2), ("finished", 2), ("spoiled", 0)],
    ),
    "finished by hand": ([line(9, "done", pieces=[2])], 9.5, [("waiting", 0), ("finished", 2), ("waiting", 0)]),
    "finished, then spoiled": (
        [line(9, "done", pieces=[2]), line(25, "spoiled", pieces=[2])],
        30,
        [("finished", 2), ("spoiled", 0), ("finished", 2)],
    ),
    "a loading done early": (
        [line(9.5, "done", press="window", pieces=[1])],
        9.6,
        [("waiting", 1), ("waiting", 0), ("waiting", 0)],
    ),
    "cancelled": ([line(11.5, "cancel", order="G1")], 30, [("cancelled", 1), ("cancelled", 1), ("cancelled", 0)]),
    "cancelled when all was done": ([line(28, "cancel", order="G1")], 30, [("finished", 2)] * 3),
    "blanks come later": (
        [line(10.5, "ready", 13, order="G1")],
        30,
        [("finished", 2), ("waiting", 0), ("waiting", 0)],
    ),
    "named blanks come later": (
        [line(10.9, "ready", 30, order="G1", pieces=[1])],
        30,
        [("waiting", 0), ("finished", 2), ("finished", 2)],
    ),
    "blanks are there": ([line(9, "ready", order="G1")], 30, [("finished", 2)] * 3),
}


@pytest.mark.parametrize("name", LOGS)
def test_the_log_says_otherwise(name: str) -> None:
    """Each event changes what the plan said just as far as it reaches."""
    log, minutes, states = LOGS[name]
    assert told(stand(minutes, *log)) == states


def test_what_must_be_pressed_again_is_marked() -> None:
    """What lay under the press that went down is told apart from what merely waits, until it has been pressed."""
    log = [line(11.6, "down", press="window"), line(11.9, "up", press="window")]
    assert [piece.again for piece in stand(12, *log).pieces.values()] == [False, True, False, False, False]
    done = line(11.95, "done", press="window")
    assert not any(piece.again for piece in stand(12, *log, done).pieces.values())


def test_after_a_new_plan_the_new_rows_count() -> None:
    """Rows that press again what was lost make it good, and a spoiled piece is made from its first operation."""
    log = [line(11.6, "down", 11.9, press="window"), line(25, "spoiled", pieces=[1])]
    again = [
        *loading(9, 30, pieces=("G1-1-002",)),
        *loading(10, 31, pieces=("G1-1-001",)),
        *loading(11, 40, pieces=("G1-1-002",), operation=2, temperature=340),
        *loading(12, 41, pieces=("G1-1-001",), operation=2, temperature=340),
    ]
    rows = [r for r in ROWS if r.loading != 5] + again
    pair = ("G1-1-001", "G1-1-002")
    assert told(state_at(DAY, rows, log, at(30.5)), *pair) == [("spoiled", 0), ("in hand", 0)]
    assert told(state_at(DAY, rows, log, at(31.5)), *pair) == [("in hand", 0), ("waiting", 1)]
    assert told(state_at(DAY, rows, log, at(42)), *pair) == [("finished", 2), ("finished", 2)]


def test_one_of_a_platenful_is_spoiled() -> None:
    """A spoiled piece leaves its loading, the others in it go on."""
    state = stand(23.5, line(23.4, "spoiled", pieces=["G2-1-002"]))
    (hand,) = state.in_hand
    assert (hand.loading, hand.press, hand.pieces) == (7, "window", ("G2-1-001",))
    assert [r.what for r in hand.rows] == ["load", "align", "dwell", "unload"]
    assert state.by_order["G2"] == {"in hand": 1, "spoiled": 1}


def test_what_cools_carries_its_peel() -> None:
    """A piece off the press that is not peeled comes with when the press opened and the peel that is planned."""
    (cooling,) = stand(13.2).cooling
    assert (cooling.loading, cooling.pieces, cooling.operation) == (3, ("G1-1-003",), 1)
    assert (cooling.opened, cooling.temperature, cooling.peel.start) == (at(12.75), 300, at(13.5))
    assert stand(13.2, line(13.1, "done", press="window", pieces=[3])).cooling == ()


def test_worked_rows_are_those_that_took_place() -> None:
    """Rows begun by the moment are kept, what a press that went down cut off is not."""
    state = stand(30, line(11.6, "down", press="window"))
    assert {r.loading for r in state.worked} == {None, 1, 2}
    assert [r.what for r in state.worked if r.loading == 2] == ["load", "align"]
    assert len(stand(60).worked) == len(ROWS)


def test_rush_and_cancel_are_carried() -> None:
    """New due times, priorities and cancelled lines are there for who plans the rest."""
    log = [
        line(9, "rush", 60, order="G1"),
        line(10, "rush", order="G1", note="priority 3"),
        line(11, "cancel", order="G2"),
    ]
    state = stand(12, *log)
    assert state.due == {("G1", "1"): at(60)} and state.priority == {("G1", "1"): 3.0}
    assert state.cancelled == {("G2", "1")} and stand(10.5, *log).cancelled == frozenset()


def test_new_blanks_carry_their_time() -> None:
    """A spoiled piece and one whose blank comes later say from when they can be begun."""
    log = [line(10.9, "spoiled", 50, pieces=[1]), line(9, "ready", 40, order="G2")]
    pieces = stand(12, *log).pieces
    assert (pieces["G1-1-001"].ready, pieces["G1-1-001"].spoiled) == (at(50), at(10.9))
    assert pieces["G2-1-001"].ready == at(40) and pieces["G1-1-002"].ready is None


@pytest.mark.parametrize(
    ("minutes", "log", "degrees", "setting"),
    [
        (0, [], 100.0, None),
        (4, [], 200.0, None),  # 25 degrees a minute from 100
        (8.5, [], 300.0, None),  # it settles
        (9, [], 300.0, (300, "medium")),
        (15, [], 325.0, None),
        (17, [], 340.0, (340, "medium")),
        (21, [line(11, "down", press="window")], 260.0, None),  # ten minutes at 4 degrees a minute
        (9, [line(4, "down", press="window")], 180.0, None),  # half-way up, then five minutes off
        (25, [line(4, "down", press="window")], 116.0, None),
        (100, [line(4, "down", press="window")], 72.0, None),  # the room's
        (8, [line(4, "down", press="window"), line(6, "up", press="window")], 184.0, None),
        (12, [line(4, "down", press="window"), line(6, "up", press="window")], 300.0, (300, "medium")),
    ],
)
def test_what_the_press_shows(
    minutes: float, log: list[Entry], degrees: float, setting: tuple[int, str] | None
) -> None:
    """Half-way through a change, settling, cooling while down; set again as soon as work lies on it again."""
    press = stand(minutes, *log).presses["window"]
    assert press.temperature == pytest.approx(degrees) and press.setting == setting


def test_overnight_it_falls_back() -> None:
    """After closing time a measured press falls toward the room by Newton's law (Incropera, chapter 5)."""
    measured = {k: v for k, v in PRESS.items() if k != "cool_down"} | {"cooling": {"tau_min": 60}}
    made = replace(DAY, shop=DAY.shop.model_copy(update={"press": (Press.model_validate(measured),)}))
    shown = state_at(made, ROWS, [], at((17 - 8 + 1) * 60)).presses["window"]
    assert shown.setting is None and shown.temperature == pytest.approx(72 + (340 - 72) * math.exp(-1))
    before = state_at(made, ROWS, [], at((17 - 8) * 60 - 1)).presses["window"]
    assert before.setting == (340, "medium") and before.temperature == 340


def test_who_is_where() -> None:
    """Each press and person says what is under way and what comes next; who is absent and what is down, until when."""
    state = stand(11.1)
    assert state.presses["window"].loadings == (2,)
    follow = state.presses["window"].next
    assert follow is not None and (follow.what, follow.loading) == ("load", 3)
    ada, ben = state.people["ada"], state.people["ben"]
    assert ada.doing is not None and ada.doing.what == "load" and ben.doing is None
    assert ben.next is not None and (ben.next.what, ben.next.loading) == ("unload", 2)
    state = stand(11.1, line(11, "down", 22, press="window"), line(10, "absent", person="ben"))
    out = state.presses["window"].out
    assert out is not None and (out.start, out.end) == (at(11), at(22)) and state.presses["wall"].out is None
    away = state.people["ben"].out
    assert away is not None and away.end is None and state.people["ben"].next is None


def test_what_cannot_take_place_does_not_come_next() -> None:
    """With the press down for good nothing comes next on it, and a change while it is down does not take place."""
    state = stand(11.6, line(11.5, "down", press="window"))
    assert state.presses["window"].next is None and state.presses["window"].loadings == ()
    assert row(14, 16.6, "change", temperature=340) not in stand(30, line(11.5, "down", press="window")).worked
