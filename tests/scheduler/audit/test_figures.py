"""What plans come to, against sums done by hand."""

from __future__ import annotations

from datetime import datetime

import pytest

from scheduler.audit import measure
from tests.scheduler.audit import cases
from tests.scheduler.audit.bench import WALL, WORDS, Bench, Step, make_day

LOW = {"film": "smooth", "box": [0, 0, 11, 5]}


def test_a_plain_day() -> None:
    """Two pieces of 43 s after a warm-up of 620 s end at 706 s; nothing is late, changed or waited for."""
    figures = measure(*cases.plain())
    assert figures.finish == datetime(2026, 12, 1, 8, 11, 46)
    assert figures.work_min == pytest.approx(706 / 60)
    assert (figures.late_min, figures.changes, figures.change_min, figures.peel_wait_min) == (0, 0, 0, 0)
    assert figures.press_min == {"wall": pytest.approx((620 + 41 + 37 - 4) / 60)}
    assert figures.person_min == {"ada": pytest.approx(2 * 26 / 60)}


def test_late_minutes_count_by_priority() -> None:
    """An order is due at its earliest line, late at its last piece, and weighs as its most urgent line."""
    lines = [
        {"quantity": 1, "due": "2026-12-01T08:10"},
        {"quantity": 1, "line": "2", "due": "2026-12-01T09:00", "priority": 3},
    ]
    day = make_day(lines=lines)
    bench = Bench(day).change("wall", 305, "medium", 620)
    figures = measure(*bench.loading("wall", [1]).loading("wall", [1], line=("A", "2")).done())
    assert figures.late_min == pytest.approx(3 * 106 / 60)
    assert figures.finishes == {"A": datetime(2026, 12, 1, 8, 11, 46)}


def test_changes_count_but_warm_ups_do_not() -> None:
    """One change of 131 s: worth ten minutes and its own."""
    figures = measure(*cases.one_press_both())
    assert (figures.changes, figures.change_min) == (1, pytest.approx(131 / 60))
    end = (620 + 2 * 33 + 131 + 2 * 43) / 60
    assert figures.work_min == pytest.approx(end + 10 + 131 / 60)


def test_two_days_have_two_warm_ups() -> None:
    """The next day's first setting is no change."""
    figures = measure(*cases.two_days())
    assert (figures.changes, figures.change_min) == (0, 0)


def test_waiting_on_the_press_for_a_peel() -> None:
    """Two loadings wait 7 s each on the press; the second peel is off it and costs it nothing."""
    assert measure(*cases.auto_open()).peel_wait_min == pytest.approx(14 / 60)


def test_waiting_beside_an_idle_press() -> None:
    """The press stands empty from its unload until the next loading; what counts is while that piece cools.

    The first closing opens at 33 s, may be peeled from 38 s on and is peeled at 39 s to 43 s; the press is
    empty from 37 s to 43 s: one second of it, 37 s to 38 s, for cooling.
    """
    day = make_day(
        presses=[WALL | WORDS | {"at_start": 305}],
        placements=[{"at": "front", "layer": [LOW, LOW | {"box": [2, 1, 4, 2]}]}],
        lines=[{"quantity": 1}],
    )
    bench = Bench(day).change("wall", 305, "medium", 0)
    rows = bench.loading("wall", [1], [Step((1,))]).loading("wall", [1], [Step((2,))], first=2).done()
    assert measure(*rows).peel_wait_min == pytest.approx(1 / 60)


def test_the_weights_are_the_shops() -> None:
    """`finish`, `change` and `peel_wait` weigh what they name."""
    day, rows = cases.one_press_both()
    heavy = make_day(
        films=day.catalog.film, placements=day.designs.design[0].placement, goals={"finish": 2, "change": 100}
    )
    figures = measure(heavy, rows)
    end = (620 + 2 * 33 + 131 + 2 * 43) / 60
    assert figures.work_min == pytest.approx(2 * end + 100 + 131 / 60)
