"""Which presses take an operation, why others don't, and what may share a loading."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import pytest

from models.day import Day
from models.operation import Route
from models.problem import NoPlan
from models.units import Window
from scheduler.breakdown import Fit, break_down, check_fits, fits, loading_window, why_not
from tests.scheduler.breakdown.days import PRESS, TEE, Table, day_of, film, pile, strip

AUTO: Table = {**PRESS, "id": "auto", "auto_open": True}


def made(
    films: Sequence[Table], placements: Mapping[str, Sequence[Table]], garment: Table = TEE, **more: Any
) -> tuple[Day, Route]:
    day = day_of(films, placements, garment, **more)
    return day, next(iter(break_down(day).values()))[0]


def one(press: Table, garment: Table = TEE, *, layer: Table | None = None, **given: Any) -> tuple[list[Fit], list[str]]:
    """The fit of a one-layer operation on one press, or why it has none."""
    day, route = made([film("a", **given)], {"front": [layer or pile("a")]}, garment, presses=[press])
    (op,) = route.operations
    return list(fits(day, route, op).values()), why_not(day, route, op)


def test_a_fit_is_what_film_and_press_share() -> None:
    """Set-points inside both, pressures both know in the press's order, one piece a loading."""
    press = {**PRESS, "temperature": [200, 310.5], "pressures": ["firm", "medium", "light"]}
    found, reasons = one(press, pressure=["light", "firm"])
    assert found == [Fit("window", Window(300, 310), ("firm", "light"), 1)]
    assert reasons == []


@pytest.mark.parametrize(
    ("press", "reason"),
    [
        ({"temperature": [200, 280]}, "is set from 200 to 280 °F, and 300 to 320 °F is needed"),
        ({"pressures": ["light", "medium"]}, 'can be set to "light" or "medium" pressure, and "firm" is needed'),
        ({"garments": ["cap"]}, 'does not take garment "tee" (only "cap")'),
        ({"placements": ["back", "sleeve"]}, 'does not take placement "front" (only "back" or "sleeve")'),
        ({"platen": [3, 9]}, "has a platen of 3 by 9 in, and the placement takes 4 by 4 in"),
    ],
)
def test_each_reason_is_one_sentence_with_its_numbers(press: Table, reason: str) -> None:
    """A press that cannot take an operation says why, with the numbers and units of both."""
    found, reasons = one({**PRESS, **press}, pressure="firm")
    assert found == []
    assert reasons == [f'press "window" {reason}']


def test_all_reasons_of_a_press_are_given() -> None:
    """A press with several shortcomings names them all."""
    _, (sentence,) = one({**PRESS, "temperature": [200, 280], "platen": [2, 2], "garments": ["cap"]})
    assert sentence.count(";") == 2


@pytest.mark.parametrize(
    ("platen", "footprint", "capacity"),
    [
        ([16, 20], [9, 11], 2),  # as it lies 1 by 1, turned 1 by 2: 11 of 16 and 18 of 20
        ([16, 20], [8, 10], 4),
        ([16, 20], [5, 7], 8),  # 3 by 2 = 6, turned 2 by 4 = 8
        ([16, 20], [17, 5], 3),  # only turned: 3 by 1
    ],
)
def test_footprints_fill_the_platen_in_a_grid(platen: list[int], footprint: list[int], capacity: int) -> None:
    """As many pieces as fit in a grid with all the same way round, either way."""
    (fit,), _ = one({**PRESS, "platen": platen}, {**TEE, "footprint": footprint})
    assert fit.capacity == capacity


def test_a_footprint_that_does_not_fit_bars_the_press() -> None:
    """A piece that takes up more than the platen cannot be pressed there, even where the placement fits."""
    found, (reason,) = one({**PRESS, "platen": [6, 6]}, {**TEE, "footprint": [9, 11]})
    assert found == []
    assert "one piece takes up 9 by 11 in" in reason


def test_a_press_that_opens_by_hand_must_be_cleared_before_the_latest_peel() -> None:
    """No press by hand takes a film whose peel may not start at once and is over before a piece is unloaded."""
    short = {"peel": "warm", "peel_after_s": [2, 6]}
    found, (reason,) = one(PRESS, {**TEE, "unload_s": 8}, **short)
    assert found == []
    assert "at the earliest 2 s and at the latest 6 s after it opens, and unloading a piece takes 8 s" in reason
    assert one(AUTO, {**TEE, "unload_s": 8}, **short)[0]
    assert one(PRESS, {**TEE, "unload_s": 6}, **short)[0]
    assert one(PRESS, {**TEE, "unload_s": 8}, peel="hot")[0]


def test_capacity_is_what_can_be_unloaded_in_time() -> None:
    """Where the pieces must be off the press before their latest peel, no more are loaded than that allows."""
    small = {**TEE, "footprint": [5, 5], "unload_s": 4}
    (by_hand,), _ = one(PRESS, small, peel="warm", peel_after_s=[5, 30])
    (by_itself,), _ = one(AUTO, small, peel="warm", peel_after_s=[5, 30])
    assert (by_hand.capacity, by_itself.capacity) == (7, 12)


def test_the_fastest_hands_decide_what_can_be_unloaded() -> None:
    """The pace of the quickest person who runs the press counts."""
    day, route = made(
        [film("a", peel="warm", peel_after_s=[2, 6])],
        {"front": [pile("a")]},
        {**TEE, "unload_s": 8},
        people=[{"id": "ada", "pace": 0.7}, {"id": "ben", "pace": 0.5, "presses": ["other"]}],
        presses=[PRESS, {**PRESS, "id": "other", "temperature": [100, 150]}],
    )
    assert "window" in fits(day, route, route.operations[0])  # ceil(0.7 * 8) = 6


def test_no_press_and_no_person_are_all_listed() -> None:
    """Every operation without a press or without a person for it is named at once."""
    day = day_of(
        [film("a"), film("hot", temperature=440)],
        {"front": [pile("a"), pile("hot")]},
        {"id": "tee"},
        presses=[PRESS, {**PRESS, "id": "wall", "temperature": [200, 250]}],
        people=[{"id": "ada", "presses": ["wall"]}],
    )
    with pytest.raises(NoPlan) as caught:
        check_fits(day, break_down(day))
    nobody, nothing = caught.value.reasons
    assert 'operation 1 ("a"): no person runs "window"' in nobody
    assert 'operation 2 ("hot"): no press can take it' in nothing
    assert 'press "window" is set from 200 to 430 °F, and 440 °F is needed' in nothing
    assert 'press "wall" is set from 200 to 250 °F' in nothing


def test_a_route_that_no_press_can_work_is_left_out() -> None:
    """Of two orders of placements only the one whose windows a press can be set to is kept."""
    films = [film("a", reheat_max=305, temperature=[300, 330]), film("b", temperature=[300, 330])]
    day = day_of(films, {"front": [pile("a")], "back": [pile("b")]}, presses=[{**PRESS, "temperature": [310, 400]}])
    routes = break_down(day)
    assert len(routes["tee", "d"]) == 2
    (kept,) = check_fits(day, routes)["tee", "d"]
    assert [op.placement for op in kept.operations] == ["back", "front"]


PEELS = [
    ("hot", None, True, True),  # may be peeled at once: by hand and by itself
    ("warm", None, False, True),  # 5 to 30 s: only where the press opens by itself
    ("cold", None, False, True),
    ("warm", [0, 30], True, True),
]


@pytest.mark.parametrize(("peel", "after", "by_hand", "by_itself"), PEELS)
def test_sharing_a_loading_needs_a_peel_at_once_or_a_press_that_opens(
    peel: str, after: list[int] | None, by_hand: bool, by_itself: bool
) -> None:
    """On a press that opens by hand only a peel that may start at once leaves the garment on the platen."""
    given = {"peel": peel, **({} if after is None else {"peel_after_s": after})}
    day, route = made([film("a", **given)], {"front": [pile("a"), pile("a")]}, presses=[PRESS, AUTO])
    ops = route.operations
    assert (loading_window(day, route, ops, "window") is not None) is by_hand
    assert (loading_window(day, route, ops, "auto") is not None) is by_itself


def test_the_last_peel_of_a_loading_may_wait() -> None:
    """The last operation of a loading is peeled off the press, so its peel may be of any kind."""
    films = [film("a"), film("b", temperature=[310, 330], peel="cold")]
    day, route = made(films, {"front": [pile("a"), pile("b")]})
    assert loading_window(day, route, route.operations, "window") == Fit("window", Window(310, 320), ("medium",), 1)


def test_one_set_point_and_pressure_must_suit_all() -> None:
    """Operations without a set-point or a pressure in common take a loading each."""
    hot = [film("a"), film("b", temperature=[321, 330])]
    day, route = made(hot, {"front": [pile("a"), pile("b")]})
    assert loading_window(day, route, route.operations, "window") is None
    firm = [film("a", pressure="light"), film("b", pressure="firm")]
    day, route = made(firm, {"front": [pile("a"), pile("b")]})
    assert loading_window(day, route, route.operations, "window") is None
    assert loading_window(day, route, route.operations[:1], "window") is not None


def test_cooling_bounds_a_shared_loading_by_hand() -> None:
    """By hand, a film that has to cool is peeled at once only from set-points at or below that temperature."""
    films = [film("a", peel_below=310), film("b")]
    garment = {**TEE, "cooling_tau_s": 30}
    day, route = made(films, {"front": [pile("a"), pile("b")]}, garment, presses=[PRESS, AUTO])
    by_hand = loading_window(day, route, route.operations, "window")
    by_itself = loading_window(day, route, route.operations, "auto")
    assert by_hand is not None and by_hand.temperature == Window(300, 310)
    assert by_itself is not None and by_itself.temperature == Window(300, 320)


def test_only_neighbours_on_one_placement_share() -> None:
    """Operations of two placements, or with another between them, never share a loading."""
    day, route = made([film("a")], {"front": [pile("a"), pile("a"), pile("a")], "back": [pile("a")]})
    a, b, c, back = route.operations
    assert loading_window(day, route, (a, b, c), "window") is not None
    assert loading_window(day, route, (a, c), "window") is None
    assert loading_window(day, route, (c, back), "window") is None


def test_a_repress_shares_the_loading_of_its_operation() -> None:
    """The garment may stay on the platen for the pressing after its peel."""
    day, route = made([film("a", repress_s=5)], {"front": [strip("a", 0)]})
    assert [op.repress for op in route.operations] == [False, True]
    assert loading_window(day, route, route.operations, "window") is not None
