"""The simulated day against the timetable it is made from, and against closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest

from models.day import Day
from models.plan import Row
from models.problem import BadInput
from models.shop import Spread
from scheduler.calendar import shop_windows
from scheduler.likely import STILL, Known, network_of, play
from scheduler.timetable.dispatch import dispatch
from scheduler.timetable.rows import rows_of
from tests.scheduler.breakdown.days import PRESS, film, pile
from tests.scheduler.days import day as day_of
from tests.scheduler.days import instance_of, programmes, random_day
from tests.scheduler.likely.still import off_plan
from tests.scheduler.output.planned import NAMES, planned


def timed(day: Day) -> list[Row]:
    """The rows of the first programme of a day that dispatches without fault."""
    instance = instance_of(day)
    tables = (dispatch(instance, programme) for programme in programmes(instance))
    table = next(t for t in tables if not t.unplaced and not t.broken)
    return rows_of(instance, table)


@pytest.mark.parametrize("name", NAMES)
def test_without_spreads_every_row_falls_where_the_timetable_has_it(name: str) -> None:
    """A day on which nothing strays is the planned day, to the second, on every scenario."""
    made = planned(name)
    played = play(made.day, network_of(made.day, made.rows), STILL, 2, seed=3)
    assert off_plan(made.day, made.rows, played) == []
    assert {order.order: made.day.seconds(order.finish) for order in made.plan.orders} == {
        order: end[-1] for order, end in played.finish.items()
    }
    assert played.overpressed.sum() == played.peeled_late.sum() == played.spoiled.sum() == 0


@pytest.mark.parametrize("seed", range(30))
def test_without_spreads_drawn_days_fall_as_planned_too(seed: int) -> None:
    """Presses with two platens, racks, breaks, people who come late: the planned day comes back to the second."""
    try:
        instance = instance_of(random_day(seed))
    except BadInput:
        pytest.skip("the drawn day cannot be pressed")
    table = dispatch(instance, programmes(instance)[0])
    if table.unplaced or table.broken:
        pytest.skip("the drawn day has no timetable at once")
    rows = rows_of(instance, table)
    assert off_plan(instance.day, rows, play(instance.day, network_of(instance.day, rows), STILL, 2, seed=0)) == []


def line_of_pieces(pieces: int, presses: int = 1, **shop: object) -> Day:
    """One-layer pieces with a hot peel, and a person to each press, who does nothing else."""
    names = [f"press-{n}" for n in range(presses)]
    return day_of(
        [film(f"f{n}") for n in range(presses)],
        {f"d{n}": {f"at{n}": [pile(f"f{n}")]} for n in range(presses)},
        [(f"d{n}", pieces, {"order": "1", "line": str(n)}) for n in range(presses)],
        presses=[{**PRESS, "id": name, "placements": [f"at{n}"]} for n, name in enumerate(names)],
        people=[{"id": f"who-{n}", "presses": [name]} for n, name in enumerate(names)],
        **shop,
    )


def test_one_press_with_independent_hand_times_has_the_known_mean_and_variance() -> None:
    """All rows follow each other: the finish is a sum, its mean is the plan's and its variance the sum of theirs.

    Closed form: log-normal factors of mean 1 and coefficient of variation c on independent rows of s seconds give
    the variance c2 times the sum of s2 (Aitchison and Brown 1957, and the variance of a sum).
    """
    day, days, c = line_of_pieces(40), 6000, 0.25
    rows = timed(day)
    hands = np.array([row.seconds for row in rows if row.person is not None], dtype=float)
    finish = play(day, network_of(day, rows), Spread(hands=c, pace=0, change=0, spoil=0), days, seed=5).finish["1"]
    sd = c * math.sqrt(float((hands**2).sum()))
    assert abs(finish.mean() - day.seconds(rows[-1].end)) < 4 * sd / math.sqrt(days)
    assert abs(finish.std() / sd - 1) < 4 / math.sqrt(2 * days)


def test_a_persons_pace_and_the_warm_up_stray_as_they_should() -> None:
    """A day's pace moves all hand rows together; a change strays by its own share of its length."""
    day, days = line_of_pieces(40), 6000
    rows = timed(day)
    hands = sum(row.seconds for row in rows if row.person is not None)
    change = next(row.seconds for row in rows if row.what == "change")
    spread = Spread(hands=0, pace=0.05, change=0.15, spoil=0)
    finish = play(day, network_of(day, rows), spread, days, seed=6).finish["1"]
    sd = math.hypot(0.05 * hands, 0.15 * change)
    assert abs(finish.mean() - day.seconds(rows[-1].end)) < 4 * sd / math.sqrt(days)
    assert abs(finish.std() / sd - 1) < 0.06


def test_the_later_of_two_presses_has_clarks_mean_and_variance() -> None:
    """An order on two presses, each with its own person, is done with the later: the maximum of two nearly normal sums.

    C. E. Clark, The greatest of a finite set of random variables, Operations Research 9 (1961), equations 2 to 4.
    """
    day, days, c = line_of_pieces(60, presses=2), 6000, 0.3
    rows = timed(day)
    finish = play(day, network_of(day, rows), Spread(hands=c, pace=0, change=0, spoil=0), days, seed=8).finish["1"]
    ends = [max(day.seconds(r.end) for r in rows if r.press == f"press-{n}") for n in range(2)]
    sds = [
        c * math.sqrt(sum(r.seconds**2 for r in rows if r.press == f"press-{n}" and r.person is not None))
        for n in range(2)
    ]
    spread = math.hypot(*sds)
    alpha = (ends[0] - ends[1]) / spread
    density, below = math.exp(-(alpha**2) / 2) / math.sqrt(2 * math.pi), (1 + math.erf(alpha / math.sqrt(2))) / 2
    mean = ends[0] * below + ends[1] * (1 - below) + spread * density
    second = (ends[0] ** 2 + sds[0] ** 2) * below + (ends[1] ** 2 + sds[1] ** 2) * (1 - below)
    second += (ends[0] + ends[1]) * spread * density
    sd = math.sqrt(second - mean**2)
    assert abs(finish.mean() - mean) < 4 * sd / math.sqrt(days) + 0.02 * sd
    assert abs(finish.std() / sd - 1) < 0.06


def test_spoiled_pieces_cost_their_whole_making_again() -> None:
    """A share of s spoiled means s / (1 - s) pieces made again, each with all its hand rows and its dwell."""
    day, days, share = line_of_pieces(50), 4000, 0.04
    rows = timed(day)
    played = play(day, network_of(day, rows), Spread(hands=0, pace=0, change=0, spoil=share), days, seed=2)
    again = 50 * share / (1 - share)
    assert abs(played.spoiled.mean() - again) < 4 * math.sqrt(again / days) * 1.1
    piece = sum(row.seconds for row in rows if row.loading == 7)
    longer = played.finish["1"] - day.seconds(rows[-1].end)
    assert np.allclose(longer, played.spoiled * piece)


def test_nothing_is_loaded_that_would_lie_on_a_press_over_a_break() -> None:
    """Work that would run into the shop's break waits until after it; at closing it goes over to the next day."""
    day = line_of_pieces(300, hours={"open": "08:00", "close": "11:00", "breaks": [["09:30", "09:45"]]})
    rows = timed(day)
    played = play(day, network_of(day, rows), Spread(hands=0.3, pace=0.1), 200, seed=4)
    loads = played.start[[n for n, row in enumerate(rows) if row.what == "load"]]
    windows = shop_windows(day)
    assert all(any(a <= at < b for a, b in windows) for at in np.unique(loads // 1))
    assert (played.finish["1"] > 86_400).all()


def test_what_is_known_already_does_not_stray() -> None:
    """Rows begun before the moment that is known are as the timetable has them."""
    made = planned("team-shirts")
    until = made.day.seconds(made.plan.start) + 7200
    played = play(made.day, network_of(made.day, made.rows), Spread(), 20, seed=1, known=Known(until))
    known = [n for n, row in enumerate(made.rows) if made.day.seconds(row.start) < until and row.person]
    assert all((played.start[n] == made.day.seconds(made.rows[n].start)).all() for n in known)
    assert played.finish["2104"].std() > 0
