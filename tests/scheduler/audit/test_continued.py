"""A plan made again, damaged on purpose: each breach of what must stay as it was is found by its own rule."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import datetime, timedelta
from functools import cache

import pytest

from models.log import Entry
from models.plan import Row
from scheduler.audit import Continued, audit_rows
from scheduler.planning import Planned
from tests.scheduler.output.planned import planned
from tests.scheduler.replanning.again import again, old_of

NAME = "mixed-peels"
PRESS = "left"


def under_heat() -> datetime:
    """A moment at which a loading lies under heat on the press while another one is in hand elsewhere."""
    rows = planned(NAME).rows
    dwells = [row for row in rows if row.what == "dwell" and row.press == PRESS]
    middles = [row.start + timedelta(seconds=(row.end - row.start).seconds // 2) for row in dwells[len(dwells) // 2 :]]
    began = {row.loading: row.start for row in rows if row.what == "load" and row.press != PRESS}
    return next(at for at in middles if any(began.get(r.loading, at) < at <= r.start for r in rows))


AT = under_heat()
LOG = (Entry(at=AT, what="down", press=PRESS, until=AT + timedelta(minutes=40)),)
SECOND = timedelta(seconds=1)


@cache
def made() -> Planned:
    """A press went down and came back; the plan made from then on is sound."""
    return again(planned(NAME).day, old_of(planned(NAME)), LOG, AT)


def rules(rows: list[Row], log: tuple[Entry, ...] = LOG) -> set[str]:
    """The rules that these rows break as a continuation."""
    told = Continued(AT, log, tuple(planned(NAME).rows))
    return {finding.rule for finding in audit_rows(planned(NAME).day, sorted(rows, key=lambda r: r.start), told)}


def worked(rows: list[Row]) -> Row:
    """A hand row over long before."""
    return next(row for row in rows if row.what == "unload")


def moved_a_second(rows: list[Row]) -> list[Row]:
    """One worked row lies a second later."""
    one = worked(rows)
    return [replace(row, end=row.end + SECOND) if row is one else row for row in rows]


def a_loading_gone(rows: list[Row]) -> list[Row]:
    """A worked loading is missing."""
    number = worked(rows).loading
    return [row for row in rows if row.loading != number]


def pressed_twice(rows: list[Row]) -> list[Row]:
    """What was pressed before is pressed once more at the end."""
    number, late = worked(rows).loading, max(row.end for row in rows) - min(row.start for row in rows)
    copy = [
        replace(row, start=row.start + late, end=row.end + late, loading=9999) for row in rows if row.loading == number
    ]
    return [*rows, *copy]


def on_the_dead_press(rows: list[Row]) -> list[Row]:
    """A loading planned elsewhere is laid on the press that is down."""
    one = next(r for r in rows if r.what == "load" and r.start >= AT and r.press != PRESS)
    return [replace(r, press=PRESS) if r.loading == one.loading and r.press else r for r in rows]


def in_hand_pulled(rows: list[Row]) -> list[Row]:
    """The rest of what is in hand, or cools, off a working press is gone."""
    began = {r.loading for r in rows if r.what == "load" and r.press != PRESS and r.start < AT}
    lying = {r.loading for r in rows if r.loading in began and r.start >= AT}
    assert lying
    return [row for row in rows if row.loading not in lying or row.start < AT]


def an_invented_past(rows: list[Row]) -> list[Row]:
    """A change is said to have been begun that was not."""
    one = next(row for row in rows if row.what == "change" and row.press != PRESS)
    return [*rows, replace(one, start=AT - 2 * SECOND, end=AT - SECOND)]


def not_set_again(rows: list[Row]) -> list[Row]:
    """The press that came back presses without having been warmed up."""
    first = next(r for r in rows if r.what == "change" and r.press == PRESS and r.start >= AT)
    return [row for row in rows if row is not first]


def warmed_too_quickly(rows: list[Row]) -> list[Row]:
    """The press that came back has cooled, and its warm-up is too short for that."""
    first = next(r for r in rows if r.what == "change" and r.press == PRESS and r.start >= AT)
    return [replace(row, start=row.end - 5 * SECOND) if row is first else row for row in rows]


BREACHES: list[tuple[Callable[[list[Row]], list[Row]], str]] = [
    (moved_a_second, "worked"),
    (a_loading_gone, "worked"),
    (pressed_twice, "layer-twice"),
    (on_the_dead_press, "press-down"),
    (in_hand_pulled, "worked"),
    (an_invented_past, "worked"),
    (not_set_again, "not-set-again"),
    (warmed_too_quickly, "change-too-short"),
]


def test_what_was_made_again_is_sound() -> None:
    """Undamaged, nothing is found."""
    assert rules(list(made().rows)) == set()


@pytest.mark.parametrize(("breach", "rule"), BREACHES, ids=[breach.__name__ for breach, _ in BREACHES])
def test_a_breach_is_found(breach: Callable[[list[Row]], list[Row]], rule: str) -> None:
    """Each breach is found by the rule it breaks."""
    assert rule in rules(breach(list(made().rows)))


def test_work_by_somebody_absent_is_found() -> None:
    """With one more line in the log, the same rows are worked by somebody who is not there."""
    person = next(iter(planned(NAME).day.people))
    assert "person-absent" in rules(list(made().rows), (*LOG, Entry(at=AT, what="absent", person=person)))


def test_work_for_a_cancelled_order_is_found() -> None:
    """With one more line in the log, the same rows press for an order that nobody wants."""
    last = max(made().plan.orders, key=lambda order: order.finish).order
    assert "cancelled" in rules(list(made().rows), (*LOG, Entry(at=AT, what="cancel", order=last)))


def test_a_spoiled_piece_not_made_again_is_found() -> None:
    """With one more line in the log, a piece whose blank was lost is never pressed again."""
    piece = worked(list(made().rows)).pieces[0]
    found = rules(list(made().rows), (*LOG, Entry(at=AT, what="spoiled", pieces=(piece,))))
    assert found & {"piece-missing", "layer-missing"}  # missing whole, or what it had before the moment


def test_without_its_reason_a_broken_off_loading_is_found() -> None:
    """A loading that ends half-way needs a press that went down, a spoiled piece or somebody who left."""
    broken = [n for n in {r.loading for r in made().rows} if n and not _unloaded(n)]
    assert broken
    assert {"loading-grammar", "worked"} <= rules(list(made().rows), ())


def _unloaded(number: int) -> bool:
    return any(row.what == "unload" for row in made().rows if row.loading == number)
