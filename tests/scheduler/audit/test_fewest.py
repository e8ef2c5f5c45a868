"""The auditor's own search for a way with fewer closings (contract 2.3): never wrong, and it finds what there is."""

from __future__ import annotations

import random
from collections.abc import Iterator

import pytest

from models.day import Day
from models.plan import Row
from models.problem import BadInput
from scheduler.audit import audit_rows
from scheduler.audit.fewest import Group, fewer
from scheduler.audit.recipe import Step, recipe
from scheduler.breakdown import break_down
from tests.scheduler.audit.bench import SMOOTH, WALL, WORDS, Bench, make_day
from tests.scheduler.audit.bench import Step as Closing
from tests.scheduler.breakdown.days import Table, day_of
from tests.scheduler.breakdown.test_grouping import some_films, some_layers

PARTS = [{"film": "smooth", "box": [0, 0, 4, 4]}, {"film": "smooth", "box": [6, 0, 4, 4]}]


def drawn(seed: int) -> Day:
    """One or two placements of one to five layers each, of films of all kinds, on one garment."""
    rng = random.Random(seed)
    films = some_films(rng, rng.randint(1, 4))
    garment: Table = {"id": "tee", "max_temperature": rng.choice([303, 312, 350]), "cooling_tau_s": 30}
    names = ("front", "back")[: rng.choice([1, 1, 2])]
    places = {at: some_layers(rng, films, rng.randint(1, 5), rng.choice([2, 5, 9])) for at in names}
    return day_of(films, places, garment, room={"temperature": 72})


def routes(made: Day) -> Iterator[tuple[Step, ...]]:
    """The closings of every legal route, as an audit sees them; none where the day cannot be pressed."""
    try:
        for found in break_down(made).values():
            yield from (tuple((op.placement, op.layers) for op in route.operations) for route in found)
    except BadInput:
        return


def search(made: Day, steps: tuple[Step, ...], at: str) -> tuple[Group, ...] | None:
    """What the auditor finds for one placement of the day's one design."""
    (design,), (garment,) = made.design.values(), made.garments.values()
    return fewer(made, garment, design, next(p for p in design.placement if p.at == at), steps)


def split(made: Day, steps: tuple[Step, ...]) -> Iterator[tuple[str, tuple[Step, ...]]]:
    """Legal ways with one closing more: one closing's layers in two, the first layer before the others or after."""
    (design,), (garment,) = made.design.values(), made.garments.values()
    for k, (at, layers) in enumerate(steps):
        for parts in ((layers[:1], layers[1:]), (layers[1:], layers[:1])):
            longer = (*steps[:k], (at, parts[0]), (at, parts[1]), *steps[k + 1 :])
            if len(layers) > 1 and not recipe(made, garment, design, longer).wrong:
                yield at, longer


@pytest.mark.parametrize("seed", range(150))
def test_no_way_is_shorter_than_the_breakdowns(seed: int) -> None:
    """Every route of a drawn design has the fewest closings, by the auditor's search and by the breakdown's."""
    made = drawn(seed)
    for steps in list(routes(made))[:4]:
        for at in dict.fromkeys(step[0] for step in steps):
            assert search(made, steps, at) is None


def test_a_way_with_one_closing_too_many_is_found_out() -> None:
    """Closings split in two, legally, are told of in nearly every design, with as many as the breakdown takes."""
    found = 0
    for seed in range(150):
        made = drawn(seed)
        for steps in list(routes(made))[:1]:
            for at, longer in split(made, steps):
                better = search(made, longer, at)
                assert better is not None
                assert len(better) == sum(step[0] == at for step in steps)
                found += 1
    assert found >= 40


def needless(**more: object) -> tuple[Day, list[Row]]:
    """Two parts of one film that do not touch, pressed one after the other on both pieces."""
    day = make_day(presses=[WALL | WORDS | {"at_start": 305}], placements=[{"at": "front", "layer": PARTS}], **more)  # type: ignore[arg-type]
    bench = Bench(day).change("wall", 305, "medium", 0)
    for piece in (1, 2):
        bench.loading("wall", [piece]).loading("wall", [piece], [Closing((2,))], first=2)
    return bench.done()


def test_every_piece_pressed_once_too_often() -> None:
    """Alike for all pieces, so that no piece betrays another: what gives it away is the way that would do."""
    (finding,) = audit_rows(*needless())
    assert finding.rule == "fewest-operations"
    assert '2 closings on "front" of "crest" where 1 do (layers 1;2): A-1-001, A-1-002' in finding.message


def test_what_needs_two_closings_is_left_in_peace() -> None:
    """With a carrier sheet that reaches over the other part the same rows are right."""
    assert audit_rows(*needless(films=[SMOOTH | {"carrier": 2.5}])) == []
