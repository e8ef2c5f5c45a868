"""Rule 8: legal orders of placements, and operations in turn where no order of whole placements is legal."""

from __future__ import annotations

import random
from itertools import pairwise, permutations, product

import pytest

from models.day import Day
from models.operation import Route
from models.problem import BadInput
from scheduler.breakdown import break_down
from tests.scheduler.breakdown.days import day_of, film, pile, routes_of, strip


def order(route: Route) -> list[str]:
    """The placements of a route, each once for every stretch of operations on it."""
    places = [op.placement for op in route.operations]
    return places[:1] + [b for a, b in pairwise(places) if a != b]


def lawful(route: Route, day: Day) -> None:
    """Asserts rule 4 and the films' reheats over the whole route, reckoned from the written films."""
    for n, op in enumerate(route.operations):
        assert op.temperature.hi is not None
        for earlier in route.operations[:n]:
            for film_id in earlier.films if earlier.layers else ():
                stands = day.films[film_id].reheat_max
                assert stands is None or op.temperature.hi <= stands
        if op.layers:
            for film_id in op.films:
                most = day.films[film_id].reheats
                assert most is None or len(route.operations) - 1 - n <= most


def test_the_designs_order_comes_first() -> None:
    """All orders of three placements are legal routes, the design's first."""
    routes = routes_of([film("a")], {p: [pile("a")] for p in ("front", "back", "sleeve")})
    assert order(routes[0]) == ["front", "back", "sleeve"]
    assert {tuple(order(r)) for r in routes} == set(permutations(("front", "back", "sleeve")))


def test_films_that_stand_little_heat_go_last() -> None:
    """A placement whose film would not stand the heat of another one is pressed after it, whatever is listed."""
    films = [film("cool", reheat_max=290), film("hot", temperature=[310, 320])]
    routes = routes_of(films, {"front": [pile("cool")], "back": [pile("hot")]})
    assert [order(r) for r in routes] == [["back", "front"]]


def test_reheats_count_on_any_placement() -> None:
    """A film that stands one later pressing comes last but one, represses counted."""
    films = [film("frail", reheats=1), film("a", repress_s=5)]
    routes = routes_of(films, {"front": [pile("frail")], "back": [pile("a")]})
    assert [order(r) for r in routes] == [["back", "front"]]
    too_often = [film("frail", reheats=0), film("b", reheats=0)]
    with pytest.raises(BadInput, match=r"stands 0 later pressings .* there are 1 after it"):
        routes_of(too_often, {"front": [pile("frail")], "back": [pile("b")]})


def test_operations_take_turns_where_whole_placements_cannot() -> None:
    """Hot layers of both placements first, then the films over them that would not stand that heat."""
    films = [film("base", temperature=[315, 320]), film("top", temperature=[290, 300], reheat_max=305)]
    day = day_of(films, {"front": [pile("base"), pile("top")], "back": [pile("base"), pile("top")]})
    routes = break_down(day)["tee", "d"]
    assert order(routes[0]) == ["front", "back", "front"]
    assert [op.layers for op in routes[0].operations] == [(1,), (1,), (2,), (2,)]
    for route in routes:
        lawful(route, day)
        for place in ("front", "back"):
            assert [op.number for op in route.operations if op.placement == place] == [1, 2]
    assert len({tuple(op.placement for op in r.operations) for r in routes}) == len(routes) == 4


def test_reheats_hold_where_operations_take_turns() -> None:
    """Where placements alternate, a film that stands no later pressing at all comes last in every route."""
    films = [
        film("base", temperature=[315, 320]),
        film("top", temperature=[290, 300], reheat_max=305),
        film("frail", temperature=[290, 300], reheat_max=305, reheats=0),
    ]
    day = day_of(films, {"front": [pile("base"), pile("frail")], "back": [pile("base"), pile("top")]})
    routes = break_down(day)["tee", "d"]
    assert len(routes) == 2
    assert all(route.operations[-1].films == ("frail",) for route in routes)


def test_turns_split_what_could_have_shared() -> None:
    """Where another placement comes between, layers that could share a pressing are pressed apart."""
    # "beside" could share with "hot", but "between" does not stand "hot" and "beside" does not stand "between".
    films = [
        film("hot", temperature=[310, 320]),
        film("beside", temperature=[300, 315], reheat_max=305),
        film("between", temperature=[306, 309], reheat_max=308),
    ]
    day = day_of(films, {"front": [strip("hot", 0), strip("beside", 5)], "back": [pile("between")]})
    (route,) = break_down(day)["tee", "d"]
    assert [op.films for op in route.operations] == [("hot",), ("between",), ("beside",)]
    lawful(route, day)


@pytest.mark.parametrize("seed", range(60))
def test_routes_are_lawful_and_complete(seed: int) -> None:
    """Every route keeps rule 4 and reheats, and whole placements are used wherever any order of them is legal."""
    rng = random.Random(seed)
    films = []
    for n in range(4):
        lo = rng.choice([290, 300, 310])
        more = {"reheat_max": lo + rng.choice([5, 15])} if rng.random() < 0.6 else {}
        more |= {"reheats": rng.randint(1, 4)} if rng.random() < 0.2 else {}
        films.append(film(f"f{n}", temperature=[lo, lo + 10], **more))
    placements = {
        at: [rng.choice([pile, lambda f: strip(f, 3)])(f"f{rng.randrange(4)}") for _ in range(rng.randint(1, 2))]
        for at in ("front", "back", "sleeve")[: rng.randint(2, 3)]
    }
    day = day_of(films, placements)
    expected = singles_legal(day)
    try:
        routes = break_down(day)["tee", "d"]
    except BadInput:
        assert not expected
        return
    assert 1 <= len(routes) <= 24
    for route in routes:
        lawful(route, day)
    assert len(set(map(str, routes))) == len(routes)
    if singles_legal(day, whole=True):
        assert len(order(routes[0])) == len(placements)


def singles_legal(day: Day, whole: bool = False) -> bool:
    """Whether some order of all layers one by one is legal (`whole`: without leaving a placement half done).

    Sufficient for a route: to lay layers together only takes pressings away.
    """
    design = day.design["d"]
    layers = [(p.at, n, day.films[layer.film]) for p in design.placement for n, layer in enumerate(p.layer)]
    boxes = [layer.box for p in design.placement for layer in p.layer]
    for way in permutations(range(len(layers))):
        places = [layers[i][0] for i in way]
        fine = not whole or sum(a != b for a, b in pairwise(places)) == len(set(places)) - 1
        for (m, i), (n, j) in product(enumerate(way), repeat=2):
            if m >= n:
                continue
            first, second = layers[i], layers[j]
            piled = first[0] == second[0] and boxes[i] == boxes[j]
            stands = first[2].reheat_max
            fine = fine and not (piled and first[1] > second[1])
            fine = fine and (stands is None or second[2].temperature.lo <= stands)
        counts = all(
            layers[i][2].reheats is None or len(way) - 1 - m <= layers[i][2].reheats for m, i in enumerate(way)
        )
        if fine and counts:
            return True
    return False


def test_many_placements_keep_to_two_dozen_routes() -> None:
    """Twelve placements give at most 24 routes, all in different orders, the design's first."""
    places = [f"p{n}" for n in range(12)]
    routes = routes_of([film("a")], {p: [pile("a")] for p in places})
    assert order(routes[0]) == places
    assert len({tuple(order(r)) for r in routes}) == len(routes) == 24


def test_one_legal_order_of_seven_is_found() -> None:
    """Seven placements that must be pressed from hot to cool, listed from cool to hot, get that order."""
    films = [film(f"f{n}", temperature=[280 + 10 * n, 285 + 10 * n], reheat_max=285 + 10 * n) for n in range(7)]
    (route,) = routes_of(films, {f"p{n}": [pile(f"f{n}")] for n in range(7)})
    assert order(route) == [f"p{n}" for n in reversed(range(7))]


def test_operations_are_numbered_within_their_placement() -> None:
    """Numbers count from 1 within each placement, represses included."""
    films = [film("a", repress_s=5), film("b")]
    route, *_ = routes_of(films, {"front": [pile("a"), pile("b")], "back": [pile("b")]})
    assert [(op.placement, op.number, op.repress) for op in route.operations] == [
        ("front", 1, False),
        ("front", 2, True),
        ("front", 3, False),
        ("back", 1, False),
    ]


def test_the_same_day_gives_the_same_routes() -> None:
    """Breaking a day down twice gives equal routes in the same order."""
    films = [film("a", reheat_max=310), film("b", temperature=[305, 330])]
    placements = {"front": [pile("a"), strip("b", 3)], "back": [pile("b"), strip("a", 2)]}
    assert routes_of(films, placements) == routes_of(films, placements)
