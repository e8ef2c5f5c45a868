"""Other ways for a line to go: what they ask for, which is tried first, and a plan told in their terms."""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import replace

import pytest

from models.day import Day
from scheduler.breakdown import break_down, check_fits
from scheduler.instance import Chain, Instance, Routes
from scheduler.solving.chains import alternatives, asks, default_chains, worth_of
from scheduler.solving.incumbent import Incumbent, programme_of
from scheduler.solving.view import View
from scheduler.timetable.dispatch import dispatch
from tests.bench import days

ALONE = days.Size(60, 2, 1, 5, 8)  # one person at a pace of 1, and hand times in whole seconds


def prepared(made: Day) -> tuple[Day, Routes, list[Chain]]:
    """A day, its routes and how its lines go by default."""
    routes = check_fits(made, break_down(made))
    return made, routes, default_chains(made, routes)


def others(made: Day, routes: Routes, base: list[Chain]) -> list[list[Chain]]:
    """The default and every other way, one at a time."""
    more = alternatives(made, routes, base)
    return [base, *([chain if n in lines else now for n, now in enumerate(base)] for lines, chain in more)]


@pytest.mark.parametrize("seed", range(6))
def test_what_is_asked_is_what_is_played(seed: int) -> None:
    """Hand seconds of a dispatched timetable, row by row, and seconds on the platens at the least."""
    made, routes, base = prepared(days.make(ALONE, seed).day)
    for chains in others(made, routes, base):
        instance = Instance(made, chains)
        view = View.of(instance, 30)
        table = dispatch(instance, programme_of(view.settings, view.work, view.sequences))
        assert not table.unplaced
        rows = [row for x in table.loadings for row in (*x.done, *([x.peel] if x.peel else []))]
        asked = [asks(made, chain) for chain in chains]
        assert sum(b - a for a, b, _ in rows) == sum(
            ln.quantity * a.hands for ln, a in zip(made.lines, asked, strict=True)
        )
        least = {n: made.lines[n].quantity * a.platen for n, a in enumerate(asked)}
        stood: Counter[int] = Counter()
        for x in table.loadings:
            stood[x.script.task.line] += (x.off - x.start) * len(x.pieces)
        assert all(stood[n] >= least[n] - 1e-6 for n in least)


@pytest.mark.parametrize(("name", "seed"), [("d500", 0), ("d500", 1), ("d250", 0), ("d1200", 1)])
def test_what_seems_to_save_most_comes_first(name: str, seed: int) -> None:
    """What seems to cost something comes last, whatever it costs."""
    made, routes, base = prepared(days.named(name, seed).day)
    worth = worth_of(made, base)
    costs = []
    for lines, chain in alternatives(made, routes, base):
        pieces = sum(made.lines[n].quantity for n in lines)
        cost = pieces * (worth.seconds(asks(made, chain)) - worth.seconds(asks(made, base[min(lines)])))
        costs.append(math.inf if cost > 1e-3 else round(cost, 3))
    assert costs == sorted(costs)
    assert name != "d500" or costs[0] < 0  # one person: a loading saved is worth a wait on the platen


def test_what_is_scarce_is_worth_most() -> None:
    """One person at two presses is short of hands; six are short of presses. A wait is worth what the shop says."""
    made, _, base = prepared(days.named("d500", 0).day)
    few = worth_of(made, base)
    person = made.shop.person[0]
    crowd = tuple(person.model_copy(update={"id": f"hand-{n}"}) for n in range(6))
    many = worth_of(replace(made, shop=made.shop.model_copy(update={"person": crowd})), base)
    assert few.hands > 10 * few.platen
    assert many.platen > 10 * many.hands
    assert few.wait == many.wait > 0


@pytest.mark.parametrize(("name", "seed"), [("d60", 0), ("d500", 0), ("d500", 1)])
def test_a_plan_is_told_in_another_ways_terms(name: str, seed: int) -> None:
    """Every job once, where it may go, and lines that go as before stay on their presses."""
    made, routes, base = prepared(days.named(name, seed).day)
    view = View.of(Instance(made, base), 50)
    table = view.play(Incumbent(), "seed", view.sequences)
    homes = {(x.script.task.line, x.press) for x in table.loadings}
    told = 0
    for lines, chain in alternatives(made, routes, base):
        other = View.of(Instance(made, [chain if n in lines else now for n, now in enumerate(base)]), 50)
        sequences = other.retold(table)
        if sequences is None:
            continue
        told += 1
        assert sorted(job for jobs in sequences for job in jobs) == [job.index for job in other.work.jobs]
        for press, jobs in enumerate(sequences):
            for task in (other.instance.tasks[other.work.jobs[job].task] for job in jobs):
                assert press in task.fits
                assert task.line in lines or (task.line, press) in homes
    assert told
