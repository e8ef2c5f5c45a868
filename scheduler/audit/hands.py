"""People: one thing at a time, on presses they know, in their hours, in the time their hands take."""

from __future__ import annotations

import math
from collections.abc import Iterator

from models.plan import HAND_ROWS
from scheduler.audit.finding import Finding
from scheduler.audit.hours import inside, struck
from scheduler.audit.pieces import Recipes
from scheduler.audit.table import Closing, Entry, Loading, Table


def hands_have_a_person(table: Table, recipes: Recipes) -> Iterator[Finding]:
    """Hand rows name a person, closings and changes none."""
    for entry in table.entries:
        hand = entry.what in HAND_ROWS
        if hand and entry.row.person is None:
            yield table.find("person-missing", entry, f"nobody is named for the {entry.what}")
        if not hand and entry.row.person is not None:
            text = f'"{entry.row.person}" is named; a {entry.what} takes no hands'
            yield table.find("person-unwanted", entry, text)


def one_thing_at_a_time(table: Table, recipes: Recipes) -> Iterator[Finding]:
    """A person does one thing at a time."""
    for person, entries in table.by_person.items():
        last: Entry | None = None
        for entry in entries:
            if entry.what not in HAND_ROWS:
                continue
            if last is not None and entry.start < last.end and entry.end > last.start:
                text = f'"{person}" starts {entry.what} at {table.clock(entry.start)}, but is at {last.what}'
                until = f"of row {last.line} until {table.clock(last.end)}"
                yield table.find("person-in-two-places", entry, f"{text} {until}")
            if last is None or entry.end > last.end:
                last = entry


def people_know_their_presses(table: Table, recipes: Recipes) -> Iterator[Finding]:
    """A person works only presses they run."""
    for person, entries in table.by_person.items():
        who = table.day.people.get(person)
        if who is None or who.presses is None:
            continue
        for entry in entries:
            if entry.row.press is not None and entry.row.press not in who.presses:
                text = f'"{person}" does not run this press, only {", ".join(who.presses)}'
                yield table.find("person-press", entry, text)


def people_are_there(table: Table, recipes: Recipes) -> Iterator[Finding]:
    """A hand row lies in the person's hours within the shop's, outside breaks and absences."""
    hours = table.hours
    for person, entries in table.by_person.items():
        own = hours.people.get(person)
        if own is None:
            continue
        for entry in entries:
            span = (entry.start, entry.end)
            if not (inside(own["hours"], *span) and inside(hours.open, *span)):
                text = f'{_when(table, entry)} lies outside the hours of "{person}"'
                yield table.find("person-hours", entry, text)
            for rule, kind, word in (("person-break", "breaks", "break"), ("person-away", "away", "absence")):
                hit = struck(own[kind], *span)
                if hit is not None:
                    text = f'{_when(table, entry)} runs into the {word} of "{person}"'
                    yield table.find(rule, entry, f"{text} from {table.clock(hit[0])} to {table.clock(hit[1])}")


def _when(table: Table, entry: Entry) -> str:
    return f"{entry.what} from {table.clock(entry.start)} to {table.clock(entry.end)}"


def hands_take_their_time(table: Table, recipes: Recipes) -> Iterator[Finding]:
    """Hand rows last exactly the sum of their hand times at the person's pace."""
    begun = -1 if table.log is None else table.log.at  # what was begun before is held against the plan it came from
    for loading in table.loadings.values():
        if loading.start >= begun:
            yield from _loading_times(table, loading)
    for closing in table.closings():
        if closing.loading.start >= begun:
            yield from _layer_times(table, closing, recipes)


def _loading_times(table: Table, loading: Loading) -> Iterator[Finding]:
    garment, hands = table.garment(loading), table.day.shop.hands
    if garment is None:
        return
    each = {
        "load": hands.load_s if garment.load_s is None else garment.load_s,
        "unload": hands.unload_s if garment.unload_s is None else garment.unload_s,
    }
    for entry in loading.on_press:
        if entry.what in each:
            yield from _exact(table, entry, len(loading.pieces), each[entry.what])


def _layer_times(table: Table, closing: Closing, recipes: Recipes) -> Iterator[Finding]:
    for need in recipes.need(closing)[:1]:
        count = len(closing.loading.pieces)
        if closing.align is not None:
            yield from _exact(table, closing.align, count, need.align_s)
        elif need.align_s > 0:
            text = f"the layers are never laid; that takes {need.align_s:g} s a piece"
            yield table.find("align-missing", closing.dwell, text)
        if closing.peel is not None:
            yield from _exact(table, closing.peel, count, need.peel_s)


def _exact(table: Table, entry: Entry, pieces: int, each: float) -> Iterator[Finding]:
    who = table.day.people.get(entry.row.person or "")
    if who is None:
        return
    right = math.ceil(who.pace * pieces * each - 1e-9)
    if entry.seconds != right:
        how = f"{pieces} × {each:g} s" + ("" if who.pace == 1 else f" × pace {who.pace:g}")
        yield table.find("hand-time", entry, f"{entry.what} lasts {entry.seconds} s; right: {right} s ({how})")
