"""A table of breakdowns over demo days: each plan made again stands as a continuation of the one before."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta
from typing import Any

import pytest

from models.log import Entry
from models.problem import NoPlan
from scheduler.logbook import state_at
from tests.scheduler.output.planned import planned
from tests.scheduler.replanning.again import Reckoned, again, moments, old_of

HOUR = timedelta(hours=1)
thorough = pytest.mark.thorough


def at_moments(name: str, quick: set[int]) -> Iterator[Any]:
    """Ten moments of a scenario's day, all but some of them for the long run."""
    for number in range(10):
        yield pytest.param(name, number, id=f"{name}-{number}", marks=() if number in quick else thorough)


@pytest.mark.parametrize(
    ("name", "number"), [*at_moments("team-shirts", {4, 8}), *at_moments("mixed-peels", {2, 5, 7})]
)
@pytest.mark.parametrize("press", [0, pytest.param(1, marks=thorough)])
@pytest.mark.parametrize("hours", [pytest.param(1, marks=thorough), None], ids=["an hour", "for good"])
def test_a_press_goes_down(name: str, number: int, press: int, hours: int | None) -> None:
    """Whatever press goes down whenever: what lay under it is pressed again, the rest of the work goes on."""
    made, at = planned(name), moments(name)[number]
    down, until = list(made.day.presses)[press], None if hours is None else at + HOUR
    log = [Entry(at=at, what="down", press=down, until=until)]
    plan = again(made.day, old_of(made), log, at)
    Reckoned(made.day, made.rows, log, at).check(plan.rows)
    end = until or datetime.max
    assert not [r for r in plan.rows if r.press == down and r.end > at and r.start < end]


def test_a_press_comes_back() -> None:
    """Down for an hour it cools, and is warmed up from what it has fallen to before it presses again."""
    made, at = planned("mixed-peels"), moments("mixed-peels")[1]
    press = next(iter(made.day.presses))
    log = [Entry(at=at, what="down", press=press, until=at + HOUR)]
    plan = again(made.day, old_of(made), log, at)
    after = [r for r in plan.rows if r.press == press and r.start >= at]
    assert after[0].what == "change" and after[0].start >= at + HOUR and after[0].seconds > 0
    assert any(r.what == "dwell" for r in after)


@pytest.mark.parametrize(("name", "number"), [*at_moments("team-shirts", {8}), *at_moments("celsius-studio", set())])
def test_somebody_leaves(name: str, number: int) -> None:
    """Whoever leaves whenever: what they had in hand is taken over or pressed again, and they begin nothing more."""
    made, at = planned(name), moments(name)[number]
    for person in made.day.people:
        log = [Entry(at=at, what="absent", person=person)]
        plan = again(made.day, old_of(made), log, at)
        Reckoned(made.day, made.rows, log, at).check(plan.rows)
        assert not [r for r in plan.rows if r.person == person and r.start >= at]


@pytest.mark.parametrize(("name", "number"), [*at_moments("mixed-peels", {3}), *at_moments("two-presses", set())])
def test_pieces_are_spoiled_in_every_state(name: str, number: int) -> None:
    """Finished, in hand, cooling or waiting half-way: a spoiled piece is made again from its first operation."""
    made, at = planned(name), moments(name)[number]
    state = state_at(made.day, made.rows, [], at)
    of_state: dict[str, str] = {}
    for piece, known in state.pieces.items():
        if known.begun or known.status == "finished":
            of_state.setdefault(known.status, piece)
    log = [Entry(at=at, what="spoiled", pieces=(piece,)) for piece in of_state.values()]
    plan = again(made.day, old_of(made), log, at)
    Reckoned(made.day, made.rows, log, at).check(plan.rows)


@pytest.mark.parametrize(("name", "number"), [*at_moments("team-shirts", {6})])
def test_an_order_is_rushed(name: str, number: int) -> None:
    """A rush gives an order a new due time and priority, and it is not done later than before where that is tight."""
    made, at = planned(name), moments(name)[number]
    last = max(made.plan.orders, key=lambda order: order.finish)
    log = [Entry(at=at, what="rush", order=last.order, until=at + HOUR, note="priority 9")]
    plan = again(made.day, old_of(made), log, at)
    Reckoned(made.day, made.rows, log, at).check(plan.rows)
    now = next(order for order in plan.plan.orders if order.order == last.order)
    assert now.due == at + HOUR and now.finish <= last.finish


@pytest.mark.parametrize(("name", "number"), [*at_moments("team-shirts", {7})])
def test_an_order_is_cancelled_and_a_piece_is_done_ahead(name: str, number: int) -> None:
    """Nothing more is dressed for what is cancelled or done already."""
    made, at = planned(name), moments(name)[number]
    last = max(made.plan.orders, key=lambda order: order.finish).order
    waiting = [p for p, s in state_at(made.day, made.rows, [], at).pieces.items() if s.status == "waiting"]
    done = next((p for p in waiting if not p.startswith(f"{last}-")), None)
    log = [Entry(at=at, what="cancel", order=last)]
    log += [Entry(at=at, what="done", pieces=(done,))] if done else []
    plan = again(made.day, old_of(made), log, at)
    Reckoned(made.day, made.rows, log, at).check(plan.rows)
    assert plan.plan.changes is not None
    assert next(o for o in plan.plan.changes.orders if o.order == last).now is None


@pytest.mark.parametrize(("name", "number"), [*at_moments("celsius-studio", {7}), *at_moments("two-presses", set())])
def test_all_at_once(name: str, number: int) -> None:
    """A press, a person, spoiled pieces and a rush at one moment."""
    made, at = planned(name), moments(name)[number]
    state = state_at(made.day, made.rows, [], at)
    begun = [piece for piece, known in state.pieces.items() if known.begun][-2:]
    order = max(made.plan.orders, key=lambda order: order.finish).order
    log = [
        Entry(at=at, what="down", press=list(made.day.presses)[-1], until=at + HOUR),
        Entry(at=at, what="absent", person=next(iter(made.day.people)), until=at + HOUR),
        Entry(at=at, what="spoiled", pieces=tuple(begun)),
        Entry(at=at, what="rush", order=order, until=at + 2 * HOUR),
    ]
    plan = again(made.day, old_of(made), log, at)
    Reckoned(made.day, made.rows, log, at).check(plan.rows)


@pytest.mark.parametrize(
    "name", ["mixed-peels", *(pytest.param(n, marks=thorough) for n in ("team-shirts", "celsius-studio"))]
)
def test_a_day_is_planned_again_and_again(name: str) -> None:
    """A press down and up again, a person gone, a piece spoiled, each planned from the plan before: nothing is lost."""
    made = planned(name)
    press, person = next(iter(made.day.presses)), list(made.day.people)[-1]
    first, second, third = moments(name)[1:6:2]
    log = [Entry(at=first, what="down", press=press, until=first + HOUR)]
    one = again(made.day, old_of(made), log, first)
    log.append(Entry(at=second, what="up", press=press))
    begun = [p for p, s in state_at(made.day, one.rows, log, second, old_of(one).settled).pieces.items() if s.begun]
    log.append(Entry(at=second, what="spoiled", pieces=tuple(begun[:2])))
    two = again(made.day, old_of(one), log, second)
    log.append(Entry(at=third, what="absent", person=person, until=third + timedelta(minutes=20)))
    three = again(made.day, old_of(two), log, third)
    assert three.plan.changes is not None
    assert three.plan.changes.moments == (first, second, third)
    reckoned = Reckoned(made.day, two.rows, log[-1:], third)
    reckoned.since = dict.fromkeys(begun[:2], second)
    reckoned.check(three.rows)


@pytest.mark.parametrize("name", ["team-shirts", "mixed-peels"])
def test_without_news_the_day_goes_on_as_planned(name: str) -> None:
    """Planned again for no reason nothing gets worse; unless work is saved, nearly every loading stays in place."""
    made, at = planned(name), moments(name)[3]
    plan = again(made.day, old_of(made), [], at)
    changes = plan.plan.changes
    assert changes is not None and changes.left > 100
    assert plan.plan.goals.work_min < made.plan.goals.work_min / 1.01 or changes.kept >= 0.9 * changes.left
    assert plan.plan.goals.late_min <= made.plan.goals.late_min
    assert plan.plan.goals.work_min <= 1.02 * made.plan.goals.work_min


def test_what_no_press_takes_any_more_is_told() -> None:
    """A placement whose only press is down for good: no plan, and the reason names it."""
    made, at = planned("two-presses"), moments("two-presses")[4]
    log = [Entry(at=at, what="down", press="big")]
    with pytest.raises(NoPlan, match='takes "back"'):
        again(made.day, old_of(made), log, at)
