"""How long presses stay closed, who is there when they open, and when work is peeled."""

from __future__ import annotations

import math
from collections.abc import Iterator

from scheduler.audit.finding import Finding
from scheduler.audit.heat import cooled
from scheduler.audit.pieces import Recipes
from scheduler.audit.recipe import Bound, Need
from scheduler.audit.table import Closing, Table


def dwells_are_right(table: Table, recipes: Recipes) -> Iterator[Finding]:
    """Dwells lie in every film's window, prepresses in the garment's."""
    for closing in table.closings():
        for need in recipes.need(closing):
            for bound in need.dwell:
                if not bound.lo <= closing.dwell.seconds <= bound.hi:
                    text = f"closed for {closing.dwell.seconds} s; {bound} s"
                    yield table.find("dwell-length", closing.dwell, text)
            pre = closing.prepress
            if pre is not None and need.prepress and not need.prepress.lo <= pre.seconds <= need.prepress.hi:
                text = f"prepressed for {pre.seconds} s; {need.prepress} s"
                yield table.find("prepress-length", pre, text)


def someone_opens(table: Table, recipes: Recipes) -> Iterator[Finding]:
    """On a press that does not open by itself, the next hand row starts the second it opens."""
    for loading in table.loadings.values():
        press = table.day.presses.get(loading.press)
        if press is None or press.auto_open:
            continue
        for entry, after in zip(loading.on_press, loading.on_press[1:], strict=False):
            if entry.what in ("dwell", "prepress") and after.start > entry.end:
                text = (
                    f"the {entry.what} ends {table.clock(entry.end)}, and hands come {after.start - entry.end} s later"
                )
                yield table.find("late-opening", entry, f"{text}; the press does not open by itself")


def someone_closes(table: Table, recipes: Recipes) -> Iterator[Finding]:
    """A closing starts the second the hand row before it ends."""
    for loading in table.loadings.values():
        for before, entry in zip(loading.on_press, loading.on_press[1:], strict=False):
            late = entry.start - before.end
            if late > 0 and entry.what in ("dwell", "prepress") and before.what not in ("dwell", "prepress"):
                text = f"closes {late} s after {before.what} ends at {table.clock(before.end)}; right: at once"
                yield table.find("late-closing", entry, text)


def peels_are_there(table: Table, recipes: Recipes) -> Iterator[Finding]:
    """Every closing with layers has its peel, a repress none, and no peel stands alone."""
    for closing in table.closings():
        lost = table.log is not None and not any(
            closing in table.closings_of.get(p, ()) for p in closing.loading.pieces
        )
        if closing.layers and closing.peel is None and not lost:
            yield table.find("peel-missing", closing.dwell, f"operation {closing.number} is never peeled")
        if not closing.layers and closing.peel is not None:
            yield table.find("peel-unwanted", closing.peel, "a repress has no carrier to peel")
    for loading in table.loadings.values():
        used = {id(closing.peel) for closing in loading.closings}
        for entry in [*loading.on_press, *loading.off_press]:
            if entry.what == "peel" and id(entry) not in used:
                yield table.find("peel-unwanted", entry, "a second peel, or one before any dwell")


def peels_are_in_time(table: Table, recipes: Recipes) -> Iterator[Finding]:
    """A peel starts inside every film's window, counted from the opening, and not before the garment has cooled."""
    for closing in table.closings():
        if closing.peel is None:
            continue
        waited = closing.peel.start - closing.dwell.end
        for need in recipes.need(closing):
            for bound in dict.fromkeys([*need.peel, *cooling_bounds(table, closing, need)]):
                if waited < bound.lo:
                    text = f"peeled {waited} s after the opening; {bound} s"
                    yield table.find("peel-early", closing.peel, text)
                elif waited > bound.hi:
                    text = f"peeled {waited} s after the opening; {bound} s"
                    yield table.find("peel-late", closing.peel, text)


def cooling_bounds(table: Table, closing: Closing, need: Need) -> list[Bound]:
    """The waits that films with `peel_below` ask for at the closing's set-point."""
    garment, setting = table.garment(closing.loading), closing.loading.setting
    if garment is None or garment.cooling_tau_s is None or setting is None:
        return []
    return [
        Bound(
            cooled(garment.cooling_tau_s, setting[0], film.peel_below, table.room),
            math.inf,
            f'film "{film.id}", peeled below {film.peel_below:g},',
        )
        for film in dict.fromkeys(need.films)
        if closing.layers and film.peel_below is not None
    ]


def earliest_peel(table: Table, closing: Closing, needs: list[Need]) -> float:
    """Seconds after the opening before which a closing cannot be peeled; 0 where nothing is peeled."""
    bounds = [bound.lo for need in needs for bound in [*need.peel, *cooling_bounds(table, closing, need)]]
    return max(bounds, default=0)
