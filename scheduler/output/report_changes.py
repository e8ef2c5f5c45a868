"""A plan made again, in words: what changed for orders, presses and people."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime

from models.plan import Errand, OrderChange, Plan, PressChange, WorkChange
from scheduler.output.layout import counted, on_the_minute


def told_changes(plan: Plan) -> Iterator[tuple[str, bool]]:
    """Sentences on what changed, each with whether it tells of a broken promise; none where nothing was made again."""
    changes = plan.changes
    if changes is None:
        return
    at = _clock(plan, changes.at)
    kept = f"{changes.kept} of {counted(changes.left, 'loading')} to come stay on their press and in their order."
    yield f"Planned again at {at}: {kept}", False
    for line in changes.log:
        yield f"log: {line}", False
    for order in changes.orders:
        told = _order(plan, order)
        if told:
            yield told, order.holds is False
    for press in changes.presses:
        yield from ((told, False) for told in _press(press))
    for who in changes.people:
        was, now = _errand(plan, who.was), _errand(plan, who.now)
        if was != now:
            yield f"{who.person} goes {now}; before: {was}", False


def _order(plan: Plan, order: OrderChange) -> str:
    promise = {True: "the promise holds", False: "LATE", None: "no due time"}[order.holds]
    if order.now is None:
        return f"order {order.order}: cancelled"
    now = _clock(plan, order.now, up=True)
    if order.was is None:
        return f"order {order.order}: new, done {now}, {promise}"
    moved = round((order.now - order.was).total_seconds() / 60)
    if not moved and order.holds is not False:
        return ""
    by = f" ({abs(moved)} min {'later' if moved > 0 else 'sooner'})" if moved else ""
    return f"order {order.order}: done {now}, was {_clock(plan, order.was, up=True)}{by}, {promise}"


def _press(press: PressChange) -> Iterator[str]:
    for word, works in (("more", press.added), ("no more", press.dropped), ("now from elsewhere", press.moved)):
        if works:
            yield f"press {press.press}, {word}: {'; '.join(_work(work) for work in works)}"


def _work(work: WorkChange) -> str:
    step = "" if work.operation == 1 else f" from pressing {work.operation} on"
    come = f" (was on {work.press})" if work.press else ""
    return f"{counted(work.pieces, 'piece')} of {work.order} line {work.line} {work.placement}{step}{come}"


def _errand(plan: Plan, errand: Errand | None) -> str:
    if errand is None:
        return "nowhere"
    where = f"on {errand.press}" if errand.press else "off the press"
    return f"{_clock(plan, errand.start)} to {errand.what} {errand.order} line {errand.line} {errand.placement} {where}"


def _clock(plan: Plan, at: datetime, up: bool = False) -> str:
    if up:
        return _day(plan, on_the_minute(at, True), f"{on_the_minute(at, True):%H:%M}")
    return _day(plan, at, f"{at:%H:%M:%S}".removesuffix(":00"))


def _day(plan: Plan, at: datetime, text: str) -> str:
    return text if at.date() == plan.start.date() == plan.finish.date() else f"{at:%a} {at.day} {at:%b} {text}"
