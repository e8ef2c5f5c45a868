"""The shop around the work: rows that make sense, opening hours, ready times, platens, the rack."""

from __future__ import annotations

from collections.abc import Iterator

from scheduler.audit import art
from scheduler.audit.finding import Finding
from scheduler.audit.hours import DAY, inside, struck
from scheduler.audit.pieces import Recipes
from scheduler.audit.table import Loading, Table

HORIZON = 14  # days from the start beyond which nothing is planned


def rows_make_sense(table: Table, recipes: Recipes) -> Iterator[Finding]:
    """Rows run forward in whole seconds, name presses and people of the shop, and are sorted by start."""
    latest = None
    for entry in table.entries:
        row = entry.row
        if row.end < row.start:
            yield table.find("row-times", entry, f"ends {table.clock(entry.end)}, before its start")
        if row.start.microsecond or row.end.microsecond:
            yield table.find("row-times", entry, "times are whole seconds")
        if row.press is not None and row.press not in table.day.presses:
            yield table.find("unknown-press", entry, f"the shop has {', '.join(table.day.presses)}")
        if row.press is None and row.what != "peel":
            yield table.find("unknown-press", entry, f"a {row.what} row names its press")
        if row.person is not None and row.person not in table.day.people:
            text = f'no person "{row.person}"; the shop has {", ".join(table.day.people)}'
            yield table.find("unknown-person", entry, text)
        if latest is not None and entry.start < latest:
            yield table.find("row-order", entry, "rows stand in order of their start")
            latest = None
        else:
            latest = entry.start


def within_the_plans_days(table: Table, recipes: Recipes) -> Iterator[Finding]:
    """Nothing before the start of planning, nothing more than two weeks after it."""
    for entry in table.entries:
        if entry.start < 0:
            yield table.find("before-start", entry, f"starts {-entry.start} s before planning begins")
        if entry.end > HORIZON * DAY:
            yield table.find("beyond-horizon", entry, f"ends {table.clock(entry.end)}; plans reach {HORIZON} days")


def nothing_before_ready(table: Table, recipes: Recipes) -> Iterator[Finding]:
    """No piece is taken up before its line is ready."""
    for loading in table.loadings.values():
        ready = None if loading.line is None else loading.line.ready
        if table.log and all(piece in table.log.waits for piece in loading.pieces):
            continue  # the log says since when they are there
        if ready is not None and loading.first.row.start < ready:
            text = f"starts {table.clock(loading.start)}; its line is ready {ready:%Y-%m-%d %H:%M:%S}"
            yield table.find("before-ready", loading.first, text)


def loadings_in_opening_hours(table: Table, recipes: Recipes) -> Iterator[Finding]:
    """Loadings lie in the shop's hours, over no break of it, and not while the press is away."""
    hours = table.hours
    for loading in table.loadings.values():
        span = (loading.start, loading.end)
        when = f"on the press from {table.clock(loading.start)} to {table.clock(loading.end)}"
        if not inside(hours.open, *span):
            yield table.find("shop-hours", loading.first, f"{when}, outside the shop's hours")
        for rule, spans, word in (
            ("over-break", hours.breaks, "over the shop's break"),
            ("press-away", hours.away.get(loading.press, []), "while the press is away"),
        ):
            hit = struck(spans, *span)
            if hit is not None:
                text = f"{when}, {word} from {table.clock(hit[0])} to {table.clock(hit[1])}"
                yield table.find(rule, loading.first, text)


def changes_in_opening_hours(table: Table, recipes: Recipes) -> Iterator[Finding]:
    """Presses are set while the shop is open."""
    for changes in table.changes.values():
        for change in changes:
            if not inside(table.hours.open, change.start, change.end):
                text = f"from {table.clock(change.start)} to {table.clock(change.end)}, outside the shop's hours"
                yield table.find("change-hours", change, text)


def presses_take_the_work(table: Table, recipes: Recipes) -> Iterator[Finding]:
    """A press takes the garment and the placement, its platen their size and number."""
    for loading in table.loadings.values():
        press = table.day.presses.get(loading.press)
        if press is None or loading.line is None:
            continue
        if press.garments is not None and loading.line.garment not in press.garments:
            text = f'garment "{loading.line.garment}"; the press takes {", ".join(press.garments)}'
            yield table.find("press-garment", loading.first, text)
        if press.placements is not None and loading.placement not in press.placements:
            text = f'placement "{loading.placement}"; the press takes {", ".join(press.placements)}'
            yield table.find("press-placement", loading.first, text)
        yield from _platen(table, loading, press.platen)


def _platen(table: Table, loading: Loading, platen: tuple[float, float]) -> Iterator[Finding]:
    place, garment = table.placement(loading), table.garment(loading)
    given = f"{platen[0]:g} × {platen[1]:g}"
    if place is not None and not art.fits(art.extent(place), platen):
        width, height = art.extent(place)
        yield table.find("platen", loading.first, f'"{place.at}" is {width:g} × {height:g}, the platen {given}')
    most = art.pieces_on(platen, None if garment is None else garment.footprint)
    if len(loading.pieces) > most:
        text = f"{len(loading.pieces)} pieces on a platen of {given}, which takes {most}"
        yield table.find("platen-count", loading.first, text)


def the_rack_holds(table: Table, recipes: Recipes) -> Iterator[Finding]:
    """At most `rack` pieces lie between unload and off-press peel at once."""
    rack = table.day.shop.rules.rack
    if rack is None:
        return
    events: list[tuple[int, int, Loading]] = []
    for loading in table.loadings.values():
        count = len(loading.pieces)
        for entry in loading.off_press[:1]:
            if entry.start > loading.end:
                events += [(loading.end, count, loading), (entry.start, -count, loading)]
    lying = 0
    for moment, count, loading in sorted(events, key=lambda event: event[:2]):
        lying += count
        if count > 0 and lying > rack:
            text = f"{lying} pieces lie on the rack at {table.clock(moment)}; it takes {rack}"
            yield table.find("rack", loading.on_press[-1], text)
