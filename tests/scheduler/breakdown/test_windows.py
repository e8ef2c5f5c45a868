"""Windows of an operation: limits, tack, repress, prepress, peel and cooling."""

from __future__ import annotations

import pytest

from models.operation import CoolTo
from models.problem import BadInput
from models.units import Window
from scheduler.breakdown.windows import hottest_peel
from tests.scheduler.breakdown.days import film, front, pile, routes_of, strip


def test_two_dots_pass_302_and_not_305() -> None:
    """Two dots are 150 °C = 302 °F exactly: a film at 302 °F passes, one at 305 °F doesn't (ISO 3758:2023)."""
    shirt = {"id": "shirt", "iron": 2}
    (op,) = front([film("a", temperature=302)], [strip("a", 0)], shirt)
    assert op.temperature == Window(302, 302)
    with pytest.raises(BadInput, match=r"wants 305 °F, garment \"shirt\" stands at most 302 °F .*150 °C, ISO 3758"):
        front([film("a", temperature=305)], [strip("a", 0)], shirt)


@pytest.mark.parametrize(("dots", "limit"), [(1, 110), (2, 150), (3, 200)])
def test_dots_limit_in_celsius(dots: int, limit: int) -> None:
    """One, two and three dots are 110, 150 and 200 °C at most (ISO 3758:2023)."""
    (op,) = front(
        [film("a", temperature=[100, 250])],
        [strip("a", 0)],
        {"id": "shirt", "iron": dots},
        units={"temperature": "C"},
        room={"temperature": 22},
    )
    assert op.temperature == Window(100, limit)


def test_window_is_rounded_inward() -> None:
    """A window from 300.2 to 314.8 holds the whole degrees 301 to 314."""
    (op,) = front([film("a", temperature=[300.2, 314.8])], [strip("a", 0)])
    assert op.temperature == Window(301, 314)


def test_window_is_what_the_films_share() -> None:
    """Temperature, dwell, pressures and peel of an operation are what all its films allow."""
    films = [
        film("a", temperature=[300, 315], dwell_s=[10, 14], pressure=["light", "medium"], peel="warm"),
        film("b", temperature=[305, 330], dwell_s=12, pressure=["medium", "firm"], peel="warm", peel_after_s=[8, 40]),
    ]
    (op,) = front(films, [strip("a", 0), strip("b", 1)])
    assert (op.temperature, op.dwell, op.pressures) == (Window(305, 315), Window(12, 14), ("medium",))
    assert (op.peel, op.peel_after) == ("warm", Window(8, 30))


def test_later_operations_keep_to_reheat_max_on_any_placement() -> None:
    """A film already on the front lowers the highest set-point of the back, and only of what comes later."""
    films = [film("a", reheat_max=305), film("b")]
    route, *_ = routes_of(films, {"front": [pile("a")], "back": [pile("b")]})
    assert [op.temperature for op in route.operations] == [Window(300, 320), Window(300, 305)]


def test_tack_holds_under_later_layers_only() -> None:
    """A film with tack_s is tacked where the placement is pressed again, and dwells in full where it is last."""
    films = [film("a", tack_s=5)]
    operations = front(films, [pile("a"), pile("a")], rules={"late_open_s": 2})
    assert [op.dwell for op in operations] == [Window(5, 7), Window(10, 15)]


def test_another_placement_is_no_reason_to_tack() -> None:
    """Tacking asks for a later operation on the same placement, not on another one."""
    route, *_ = routes_of([film("a", tack_s=5)], {"front": [pile("a")], "back": [pile("a")]})
    assert [op.dwell for op in route.operations] == [Window(10, 15), Window(10, 15)]


def test_repress_is_an_operation_without_layers() -> None:
    """repress_s adds a closing after the film's peel, at its window, with a cover sheet and nothing to lay or peel."""
    films = [film("a", repress_s=5, pressure="firm"), film("b", temperature=[295, 310])]
    first, second = front(films, [strip("a", 0), strip("b", 1)])
    assert (first.layers, first.number, first.dwell) == ((1, 2), 1, Window(10, 15))
    assert second.repress and second.number == 2 and second.films == ("a",)
    assert (second.temperature, second.dwell, second.pressures) == (Window(300, 320), Window(5, 8), ("firm",))
    assert (second.peel, second.peel_after, second.align_s, second.peel_s) == (None, None, 0, 0)
    assert second.cover_sheet and second.prepress is None


def test_represses_that_fall_together_are_one() -> None:
    """Two films of one operation that want a repress get one; where their dwells don't meet, the longer."""
    films = [film("a", repress_s=5), film("b", repress_s=7), film("c", repress_s=20)]
    meeting = front(films, [strip("a", 0), strip("b", 1)])
    assert [op.dwell for op in meeting] == [Window(10, 15), Window(7, 8)]
    apart = front(films, [strip("a", 0), strip("c", 1)])
    assert [op.dwell for op in apart] == [Window(10, 15), Window(20, 23)]


def test_a_repress_counts_as_a_later_pressing() -> None:
    """A film with a tack and a repress of its own is tacked first: the repress presses it again."""
    operations = front([film("a", tack_s=4, repress_s=9)], [pile("a")])
    assert [op.dwell for op in operations] == [Window(4, 7), Window(9, 12)]


def test_prepress_stands_on_the_first_closing_of_each_placement() -> None:
    """A garment that has prepress_s gets one prepress on each placement, in the first loading."""
    garment = {"id": "tee", "prepress_s": 4}
    route, *_ = routes_of([film("a")], {"front": [pile("a"), pile("a")], "back": [pile("a")]}, garment)
    assert [op.prepress for op in route.operations] == [Window(4, 7), None, Window(4, 7)]
    (bare,) = front([film("a")], [pile("a")], {"id": "tee"})
    assert bare.prepress is None


def test_cooling_caps_the_set_point() -> None:
    """The hottest set-point is the one from which the garment still cools by the latest peel (Newton's law).

    tau 29 s, 150 to 60 °C in air of 22 °C: 36 s (derived from Incropera's lumped cooling, ch. 5).
    """
    cool_to = CoolTo(60, 29)
    assert cool_to.seconds(150, 22) == 36
    hottest = hottest_peel(cool_to, 36, 22, Window(100, 400))
    assert hottest is not None
    assert cool_to.seconds(hottest, 22) <= 36 < cool_to.seconds(hottest + 1, 22)
    assert 150 <= hottest < 155


def test_operation_is_capped_so_that_every_film_peels_in_time() -> None:
    """One film's latest peel bounds the heat from which another has to cool (rule 2, peel windows meet)."""
    films = [
        film("a", temperature=[130, 180], peel="warm", peel_below=60, peel_after_s=[5, 200]),
        film("b", temperature=[130, 180], peel="warm", peel_after_s=[5, 36]),
    ]
    celsius = {"units": {"temperature": "C"}, "room": {"temperature": 22}}
    (op,) = front(films, [strip("a", 0), strip("b", 1)], {"id": "tee", "cooling_tau_s": 29}, **celsius)
    assert op.temperature.hi is not None and 150 <= op.temperature.hi < 155
    window = op.peel_window(op.temperature.hi, 22)
    assert window is not None and window.hi is not None and window.lo <= window.hi


def test_a_film_that_never_cools_in_time_is_an_error() -> None:
    """Where even the lowest set-point cools too slowly, the error gives the seconds it takes."""
    hopeless = film("a", peel="warm", peel_below=100)
    with pytest.raises(BadInput, match=r"at the latest 30 s .* takes 64 s to cool to that even from 300 °F"):
        # 30 ln((300 - 72) / (100 - 72)) = 62.9 at tau 30; tau 30.4: 63.8.
        front([hopeless], [pile("a")], {"id": "tee", "cooling_tau_s": 30.4}, room={"temperature": 72})


def test_hand_times_are_summed_over_layers() -> None:
    """Aligning takes the layer's time, else the film's, else the shop's; peeling the film's, else the shop's."""
    films = [film("a", align_s=20, peel_hand_s=7), film("b")]
    layers = [strip("a", 0), strip("a", 1, align_s=3), strip("b", 2)]
    (op,) = front(films, layers, hands={"align_s": 8, "peel_s": 4})
    assert (op.align_s, op.peel_s) == (20 + 3 + 8, 7 + 7 + 4)


def test_garment_hand_times_override_the_shop() -> None:
    """Loading and unloading take the garment's own seconds where it gives them."""
    (route,) = routes_of([film("a")], {"front": [pile("a")]}, {"id": "tee", "load_s": 30})
    assert (route.load_s, route.unload_s) == (30, 4)
