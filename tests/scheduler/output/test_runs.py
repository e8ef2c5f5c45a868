"""Rows merged into runs."""

from __future__ import annotations

import pytest

from scheduler.output.runs import runs_of
from tests.scheduler.output.planned import NAMES, at, loading, planned, row


def test_like_loadings_are_one_run() -> None:
    """Consecutive loadings of one order line and placement at one setting are one run."""
    (run,) = runs_of([row(0, 5, "change"), *loading(1, 5), *loading(2, 6), *loading(3, 7)])
    assert (run.press, run.order, run.line, run.placement) == ("window", "G1", "1", "front")
    assert (run.operations, run.layers, run.temperature, run.pressure) == ((1,), (1,), 300, "medium")
    assert (run.start, run.end, run.minutes) == (at(5), at(8), 3)
    assert (run.loadings, run.pieces, run.numbers) == (3, 3, (1, 2, 3))
    assert (run.people, run.dwell_s, run.peel, run.repress) == (("ada", "ben"), (15, 15), "", False)


@pytest.mark.parametrize(
    "other",
    [{"order": "G2"}, {"line": "2"}, {"placement": "back"}, {"operation": 2}, {"temperature": 310}],
    ids=lambda other: next(iter(other)),
)
def test_what_differs_is_another_run(other: dict[str, object]) -> None:
    """Another order, line, placement, operation or setting begins another run, and coming back begins a third."""
    runs = runs_of([*loading(1, 0), *loading(2, 1, **other), *loading(3, 2)])
    assert [run.numbers for run in runs] == [(1,), (2,), (3,)]


def test_a_change_between_ends_a_run() -> None:
    """Work taken up again after a change or the next morning's warm-up is a run of its own, at whatever setting."""
    rows = [row(0, 0, "change"), *loading(1, 0), row(1, 1, "change"), *loading(2, 1)]
    assert [run.numbers for run in runs_of(rows)] == [(1,), (2,)]


def test_presses_are_apart() -> None:
    """What another press does in between breaks no run; runs come by their start."""
    runs = runs_of([*loading(1, 1), *loading(2, 1.5, press="wall"), *loading(3, 2), *loading(4, 0, press="wall")])
    assert [(run.press, run.numbers) for run in runs] == [("wall", (4, 2)), ("window", (1, 3))]


def test_where_the_peel_is() -> None:
    """A run says whether peels are on the press, off it or both, and an off-press peel neither ends nor extends it."""
    off = row(9, 10, "peel", 1, press=None, person="cleo", layers=(1,))
    on = row(0.75, 0.8, "peel", 2, person="ada", layers=(1,))
    (run,) = runs_of([*loading(1, 0), off])
    assert (run.peel, run.end, run.people) == ("off the press", at(1), ("ada", "ben", "cleo"))
    assert runs_of([*loading(2, 0), on])[0].peel == "on the press"
    assert runs_of([*loading(1, 0), *loading(2, 1), on, off])[0].peel == "on and off the press"


def test_a_repress_lays_nothing() -> None:
    """A run without layers says that it only presses again."""
    (run,) = runs_of(loading(1, 0, layers=()))
    assert run.repress and run.layers == ()


def test_the_longest_and_the_shortest_dwell() -> None:
    """Dwells of different lengths are told as a range."""
    rows = [*loading(1, 0), row(1, 2, "load", 2), row(2, 2.5, "dwell", 2), row(2.5, 3, "unload", 2)]
    assert runs_of(rows)[0].dwell_s == (15, 30)


def test_no_rows_no_runs() -> None:
    """An empty timetable and one of changes alone have no runs."""
    assert runs_of([]) == runs_of([row(0, 5, "change")]) == []


@pytest.mark.parametrize("name", NAMES)
def test_nothing_is_lost(name: str) -> None:
    """Every loading of a real plan is in exactly one run, at its setting, within its time, whatever the rows' order."""
    rows = planned(name).rows
    runs = runs_of(rows)
    assert runs_of(reversed(rows)) == runs
    assert sorted(n for run in runs for n in run.numbers) == sorted({r.loading for r in rows if r.loading})
    mine = {number: run for run in runs for number in run.numbers}
    for r in rows:
        if r.loading is not None:
            run = mine[r.loading]
            assert (r.order, r.line, r.placement, r.temperature) == (
                run.order,
                run.line,
                run.placement,
                run.temperature,
            )
            assert r.press is None or (r.press == run.press and run.start <= r.start <= r.end <= run.end)
