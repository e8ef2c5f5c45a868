"""What a person is told where a design cannot be pressed on a garment, and what they are warned of."""

from __future__ import annotations

from datetime import datetime

import pytest

from models.catalog import Catalog
from models.day import Day
from models.design import Designs
from models.order import OrderLine
from models.problem import BadInput, Problem
from models.shop import Shop
from scheduler.breakdown import break_down
from tests.scheduler.breakdown.days import PRESS, Table, day_of, film, pile, routes_of, strip


def problems(day: Day) -> tuple[Problem, ...]:
    with pytest.raises(BadInput) as caught:
        break_down(day)
    return caught.value.problems


def test_too_hot_for_the_garment_names_all() -> None:
    """A film too hot for a garment: design, placement, layers, film, garment and both numbers."""
    films = [film("gold-glitter", temperature=[320, 330]), film("a", temperature=[270, 285])]
    tee = {"id": "league-tee", "max_temperature": 290}
    (found,) = problems(day_of(films, {"front": [strip("gold-glitter", 0), strip("a", 1), pile("gold-glitter")]}, tee))
    assert str(found) == (
        'designs.toml, design "d", placement "front", layers 1 and 3, film = "gold-glitter": film "gold-glitter" wants '
        '320 to 330 °F, garment "league-tee" stands at most 290 °F. Use a film that is pressed at 290 °F or less, '
        "or a garment that stands 320 °F."
    )


def test_art_over_a_top_only_film_names_both_layers() -> None:
    """Art laid over a film that takes nothing on top names both layers; beside it is fine."""
    films = [film("glitter", top_only=True), film("a")]
    (found,) = problems(day_of(films, {"front": [pile("glitter"), pile("a")]}))
    assert found.where == 'design "d", placement "front", layer 2'
    assert 'layer 2 ("a") lies over layer 1, and nothing may be laid on its film "glitter"' in found.wrong
    assert routes_of(films, {"front": [pile("glitter"), strip("a", 3)]})


def test_all_problems_of_all_pairs_come_at_once() -> None:
    """Every garment and design ordered is looked at before anything is refused, each problem once."""
    films = [film("hot", temperature=[340, 350]), film("warm", temperature=310), film("top", top_only=True)]
    designs = [
        {"id": "x", "placement": [{"at": "front", "layer": [strip("hot", 0), strip("warm", 1)]}]},
        {"id": "y", "placement": [{"at": "back", "layer": [pile("top"), pile("warm")]}]},
        {"id": "unordered", "placement": [{"at": "back", "layer": [pile("top"), pile("hot")]}]},
    ]
    garments = [{"id": "tee", "max_temperature": 330}, {"id": "shirt", "max_temperature": 305}]
    pairs = [("tee", "x"), ("shirt", "x"), ("tee", "y"), ("shirt", "y"), ("tee", "x")]
    day = Day(
        shop=Shop.model_validate({"press": [PRESS], "person": [{"id": "ada"}]}),
        catalog=Catalog.model_validate({"film": films, "garment": garments}),
        designs=Designs.model_validate({"design": designs}),
        lines=tuple(
            OrderLine(order="1", line=str(n), garment=garment, quantity=1, design=design)
            for n, (garment, design) in enumerate(pairs)
        ),
        start=datetime(2026, 12, 1, 8),
    )
    found = [(p.where, p.value, "shirt" in p.wrong, "tee" in p.wrong) for p in problems(day)]
    assert sorted(found) == [
        ('design "x", placement "front", layer 1', '"hot"', False, True),
        ('design "x", placement "front", layer 1', '"hot"', True, False),
        ('design "x", placement "front", layer 2', '"warm"', True, False),
        ('design "y", placement "back", layer 2', '"warm"', False, False),
        ('design "y", placement "back", layer 2', '"warm"', True, False),
    ]


def test_a_frail_film_under_a_hot_one_is_explained() -> None:
    """A film below that does not stand the heat of the one over it: both films, both numbers."""
    films = [film("frail", reheat_max=305), film("hot", temperature=[310, 320])]
    (found,) = problems(day_of(films, {"front": [pile("frail"), pile("hot")]}))
    assert found.wrong == (
        'film "hot" wants at least 310 °F and lies over layer 1, whose film "frail" stands at most 305 °F in a later '
        "pressing (reheat_max)"
    )


def test_films_that_spoil_each_other_are_explained() -> None:
    """Two films of which neither stands the other's later heat, on two placements."""
    films = [film("a", temperature=[300, 310], reheat_max=290), film("b", temperature=[300, 320], reheat_max=295)]
    (found,) = problems(day_of(films, {"front": [pile("a")], "back": [pile("b")]}))
    assert '"a" stands at most 290 °F' in found.wrong and '"b" stands at most 295 °F' in found.wrong


def test_a_ring_of_films_is_explained() -> None:
    """Where no two films alone are to blame, every clash of the ring is named."""
    # p lies under q, so p before q; q at 304 is too hot for r, so q before r; r at 307 is too hot for p: r before p.
    films = [
        film("p", temperature=[300, 305], reheat_max=306),
        film("q", temperature=[304, 306]),
        film("r", temperature=[307, 309], reheat_max=303),
    ]
    (found,) = problems(day_of(films, {"front": [pile("p"), pile("q")], "back": [pile("r")]}))
    assert found.wrong == (
        'no legal order was found for all layers on garment "tee": '
        'film "p" stands at most 306 °F in a later pressing (reheat_max), while film "r" wants at least 307 °F; '
        'film "r" stands at most 303 °F in a later pressing (reheat_max), while film "q" wants at least 304 °F'
    )


@pytest.mark.parametrize(
    ("given", "field"),
    [
        ({"temperature": [300.2, 300.8]}, "temperature"),
        ({"peel_below": 70}, "peel_below"),
        ({"repress_s": 5, "reheat_max": 290}, "reheat_max"),
        ({"repress_s": 5, "reheats": 0}, "reheats"),
    ],
)
def test_a_film_that_nothing_can_press_is_a_fault_of_the_catalog(given: Table, field: str) -> None:
    """What no garment could mend stands against the film in catalog.toml, with its field."""
    day = day_of([film("a", **given)], {"front": [pile("a")]}, {"id": "tee", "cooling_tau_s": 30})
    (found,) = problems(day)
    assert (found.file, found.where, found.field) == ("catalog.toml", 'film "a"', field)


def test_cooling_needs_the_garments_time_constant() -> None:
    """A film with peel_below on a garment without cooling_tau_s: the garment's field is asked for, once."""
    films = [film("a", peel="cold", peel_below=100), film("b", peel="cold", peel_below=110)]
    (found,) = problems(day_of(films, {"front": [pile("a"), pile("b")]}))
    assert (found.file, found.where, found.field) == ("catalog.toml", 'garment "tee"', "cooling_tau_s")
    assert 'films "a" and "b"' in found.wrong


def test_an_outline_without_area_is_a_fault() -> None:
    """Points on one line are no art, and the points are shown."""
    layer = {"film": "a", "outline": [[0, 0], [1, 1], [2, 2]]}
    (found,) = problems(day_of([film("a")], {"front": [layer]}))
    assert (found.field, found.value) == ("outline", "[[0.0, 0.0], [1.0, 1.0], [2.0, 2.0]]")


def warnings(*given: object, **more: object) -> tuple[str, ...]:
    return routes_of(*given, **more)[0].warnings


def test_art_larger_than_its_roll_is_a_warning() -> None:
    """Art that fits the film's roll neither way round is warned of; turned a quarter is fine."""
    rolled = [film("a", roll=[12, 180])]
    assert warnings(rolled, {"front": [{"film": "a", "box": [0, 0, 15, 12]}]}) == ()
    (warning,) = warnings(rolled, {"front": [{"film": "a", "box": [0, 0, 15, 13]}]})
    assert '15 by 13 in, larger than the roll of film "a" (12 by 180 in)' in warning


def test_many_layers_are_a_warning() -> None:
    """More layers than many_layers on one placement get stiff and clumsy (common practice)."""
    layers = [pile("a")] * 3
    assert warnings([film("a")], {"front": layers}, rules={"many_layers": 3}) == ()
    (warning,) = warnings([film("a")], {"front": layers}, rules={"many_layers": 2})
    assert "3 layers, more than 2" in warning


def test_art_beyond_its_placement_is_a_warning() -> None:
    """Art larger than the size its placement gives is warned of."""
    (warning,) = warnings([film("a")], {"front": [pile("a")]}, sizes={"front": [3, 3]})
    assert "4 by 4 in, larger than the placement's size of 3 by 3 in" in warning
