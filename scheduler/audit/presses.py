"""What a press can do: loadings in their grammar, one closing at a time, settings and the changes between them."""

from __future__ import annotations

import math
import re
from collections.abc import Iterator
from itertools import pairwise

from scheduler.audit.continued import given_up
from scheduler.audit.finding import Finding
from scheduler.audit.heat import change_time, fallen, reached
from scheduler.audit.pieces import Recipes
from scheduler.audit.table import Entry, Loading, Setting, Table

_GRAMMAR = re.compile(r"LP?(A?DE?)+U")
_OF_A_LOADING = ("loading", "pieces", "order", "line", "placement", "operation", "layers")
_LETTERS = {"load": "L", "prepress": "P", "align": "A", "dwell": "D", "peel": "E", "unload": "U"}


def loadings_are_whole(table: Table, recipes: Recipes) -> Iterator[Finding]:
    """load, [prepress], (align, dwell, [peel]) once or more, unload, one after another."""
    for entry in table.loose:
        yield table.find("loading-number", entry, f"a {entry.what} row that belongs to no loading on a press")
    for loading in table.loadings.values():
        if loading.number < 1:
            yield table.find("loading-number", loading.first, "loadings are numbered from 1")
        letters = _letters(loading)
        if not _GRAMMAR.fullmatch(letters) and not given_up(table, loading, letters):
            found = ", ".join(entry.what for entry in loading.on_press)
            text = f"its rows are {found}; right: load, [prepress], (align, dwell, [peel]) once or more, unload"
            yield table.find("loading-grammar", loading.first, text)
        for before, after in zip(loading.on_press, loading.on_press[1:], strict=False):
            if after.start < before.end:
                text = f"{after.what} starts {table.clock(after.start)}, while {before.what} lasts until"
                yield table.find("loading-overlap", after, f"{text} {table.clock(before.end)}")


def _letters(loading: Loading) -> str:
    return "".join(_LETTERS.get(entry.what, "?") for entry in loading.on_press)


def loadings_stay_the_same(table: Table, recipes: Recipes) -> Iterator[Finding]:
    """A loading is on one press, with one line, one placement and the same pieces throughout."""
    for loading in table.loadings.values():
        first = loading.first.row
        for entry in [*loading.on_press[1:], *loading.off_press]:
            row = entry.row
            held = {"pieces": (row.pieces, first.pieces), "order": (row.order, first.order)}
            held |= {"line": (row.line, first.line), "placement": (row.placement, first.placement)}
            if entry not in loading.off_press:
                held["press"] = (row.press, first.press)
            for name, (found, right) in held.items():
                if found != right:
                    text = f"{name} is {_told(found)}, but {_told(right)} in the loading's first row"
                    yield table.find("loading-mixed", entry, text)


def _told(value: tuple[str, ...] | str | None) -> str:
    return ";".join(value) if isinstance(value, tuple) else f'"{value}"'


def rows_tell_their_operation(table: Table, recipes: Recipes) -> Iterator[Finding]:
    """Align and peel rows carry their dwell's operation and layers, a prepress row the first operation."""
    for closing in table.closings():
        for entry in (closing.align, closing.peel):
            if entry is not None and (entry.row.operation, entry.row.layers) != (closing.number, closing.layers):
                text = (
                    f"{entry.what} of operation {entry.row.operation}, layers {_numbers(entry.row.layers)}; its dwell"
                )
                text += f" is operation {closing.number}, layers {_numbers(closing.layers)}"
                yield table.find("row-operation", entry, text)
        if closing.prepress is not None and closing.prepress.row.operation != closing.number:
            text = (
                f"prepress of operation {closing.prepress.row.operation}; right: {closing.number}, the one it precedes"
            )
            yield table.find("row-operation", closing.prepress, text)


def ends_tell_their_operation(table: Table, recipes: Recipes) -> Iterator[Finding]:
    """Load and unload rows carry no operation, or one of their loading's; no layers that it does not press."""
    for loading in table.loadings.values():
        if given_up(table, loading, _letters(loading)):
            continue
        numbers = {closing.number for closing in loading.closings}
        pressed = {layer for closing in loading.closings for layer in closing.layers}
        for entry in loading.on_press:
            strange = set(entry.row.layers) - pressed
            if strange and entry.what in ("load", "prepress", "unload"):
                text = f"{entry.what} of layers {_numbers(tuple(sorted(strange)))}, which this loading does not press"
                yield table.find("row-operation", entry, text)
            number = entry.row.operation
            if entry.what in ("load", "unload") and number is not None and number not in numbers:
                text = f"{entry.what} of operation {number}, which this loading does not press"
                yield table.find("row-operation", entry, text)


def _numbers(layers: tuple[int, ...]) -> str:
    return ";".join(map(str, layers)) or "none"


def one_closing_at_a_time(table: Table, recipes: Recipes) -> Iterator[Finding]:
    """Dwells and prepresses on one press never overlap."""
    for loadings in table.on.values():
        closed = [e for ld in loadings for e in ld.on_press if e.what in ("dwell", "prepress")]
        closed.sort(key=lambda e: (e.start, e.end))
        last: Entry | None = None
        for entry in closed:
            if last is not None and entry.start < last.end:
                text = f"closes {table.clock(entry.start)}, but the press is closed on loading {last.row.loading}"
                yield table.find("press-overlap", entry, f"{text} until {table.clock(last.end)}")
            if last is None or entry.end > last.end:
                last = entry


def no_more_than_its_stations(table: Table, recipes: Recipes) -> Iterator[Finding]:
    """At most as many loadings on a press as it has stations."""
    for press, loadings in table.on.items():
        stations = table.day.presses[press].stations if press in table.day.presses else 1
        standing: list[Loading] = []
        for loading in loadings:
            standing = [other for other in standing if other.end > loading.start]
            standing.append(loading)
            if len(standing) > stations:
                others = ", ".join(str(other.number) for other in standing[:-1])
                text = f"on the press together with loading {others}; it has {stations} station"
                yield table.find("stations", loading.first, text + ("s" if stations > 1 else ""))


def nothing_on_it_while_it_changes(table: Table, recipes: Recipes) -> Iterator[Finding]:
    """No loading stands on a press during a change, and changes don't overlap."""
    for press, changes in table.changes.items():
        loadings = table.on.get(press, [])
        for change in changes:
            for loading in loadings:
                if loading.start >= change.end and loading.start > change.start:
                    break
                if loading.end > change.start and loading.start < change.end:
                    text = f"the press changes until {table.clock(change.end)} while loading {loading.number} is on it"
                    yield table.find("change-under-loading", change, text)
        for before, after in pairwise(changes):
            if after.start < before.end:
                text = f"a change starts before the one of row {before.line} ends at {table.clock(before.end)}"
                yield table.find("change-overlap", after, text)


def changes_take_their_time(table: Table, recipes: Recipes) -> Iterator[Finding]:
    """A change lasts at least what the platen needs; a day's first from what the press has fallen to."""
    for press_id, changes in table.changes.items():
        press = table.day.presses.get(press_id)
        if press is None:
            continue
        shown: Setting | None = None
        date: int | None = None
        before: Entry | None = None
        under_way: float | None = None  # what it showed when it went down in a change
        for change in changes:
            setting = _setting(change)
            if setting is None:
                continue
            today = table.hours.workday(change.start)
            warm_up = today != date
            old: tuple[float, str | None] | None = shown
            if warm_up:
                old = (_morning(table, change, None if shown is None else shown[0], date, setting), None)
            was_down = None if before is None else _down_since(table, before, change)
            if was_down is not None and before is not None:
                at = float(shown[0] if shown else 0) if under_way is None else under_way
                old = (_risen(table, change, at, was_down, setting), None)
            assert old is not None
            if not _cut_short(table, change):
                yield from _long_enough(table, change, old, setting)
                under_way = None
            else:
                under_way = reached(press, old[0], setting[0], change.seconds, table.room)
            if not warm_up and shown == setting and was_down is None:
                text = f"the press is at {setting[0]}, {setting[1]} already; a change that changes nothing"
                yield table.find("change-idle", change, text)
            shown, date, before = setting, today, change
            if table.log is not None and change.start < table.log.at and not _cut_short(table, change):
                under_way = None


def _down_since(table: Table, before: Entry, change: Entry) -> int | None:
    """When the press went down between two changes, or in the first of them."""
    spans = table.log.down.get(change.row.press or "", []) if table.log else []
    worked = [ld.start for ld in table.on.get(change.row.press or "", ()) if before.end <= ld.start < change.start]
    starts = [start for start, _ in spans if before.start < start <= change.start]
    if not starts or any(start <= moment for start in starts[-1:] for moment in worked):
        return None  # it was pressing again, so it had been set
    return starts[-1]


def _cut_short(table: Table, change: Entry) -> bool:
    """Whether the press went down at the end of a change begun before the plan was made again."""
    if table.log is None or change.start >= table.log.at:
        return False
    return any(start == change.end for start, _ in table.log.down.get(change.row.press or "", ()))


def _risen(table: Table, change: Entry, shown: float, since: int, new: Setting) -> float:
    """What a press shows that has been cooling since it went down, until it came back or was set again."""
    press = table.day.presses[change.row.press or ""]
    ends = [end for start, end in (table.log.down.get(press.id, []) if table.log else []) if start == since]
    moments = [float(change.start), *(end for end in ends if end < change.start)]
    ways = [fallen(press, shown, until - since, table.room) for until in moments]
    return min(ways, key=lambda start: change_time(press, (start, None), new, table.room))


def _setting(change: Entry) -> Setting | None:
    row = change.row
    return None if row.temperature is None or row.pressure is None else (row.temperature, row.pressure)


def _morning(table: Table, change: Entry, shown: float | None, date: int | None, new: Setting) -> float:
    """What a press shows in the morning: fallen since the evening's closing, till the opening or till it is put on.

    One that was never set shows what it did when planning began, until the first evening.
    """
    press, hours = table.day.presses[change.row.press or ""], table.hours
    if shown is None:
        shown = table.room if press.at_start is None else press.at_start
    today, evening = hours.workday(change.start), hours.first if date is None else date
    if today <= evening:
        return shown
    closing, opening = hours.closing(evening), hours.opening(today)[0]
    ways = [fallen(press, shown, until - closing, table.room) for until in (opening, change.start)]
    return min(ways, key=lambda start: change_time(press, (start, None), new, table.room))


def _long_enough(table: Table, change: Entry, old: tuple[float, str | None], new: Setting) -> Iterator[Finding]:
    press = table.day.presses[change.row.press or ""]
    least = change_time(press, old, new, table.room)
    if change.seconds < least:
        way = f"from {old[0]:.6g} to {new[0]}" + ("" if old[1] in (None, new[1]) else f", {old[1]} to {new[1]}")
        needs = f"needs at least {least:g} s" if math.isfinite(least) else "cannot be reached on this press"
        yield table.find("change-too-short", change, f"the change {way} takes {change.seconds} s and {needs}")


def warm_ups_are_there(table: Table, recipes: Recipes) -> Iterator[Finding]:
    """Each day on which a press works begins for it with its warm-up."""
    for press, loadings in table.on.items():
        begun: dict[int, int] = {}
        for change in reversed(table.changes.get(press, [])):
            begun[table.hours.workday(change.start)] = change.end
        seen: set[int] = set()
        for loading in loadings:
            date = table.hours.workday(loading.start)
            if date not in seen and begun.get(date, math.inf) > loading.start:
                text = f"the press's first loading of {table.day.at(loading.start):%Y-%m-%d} has no warm-up before it"
                yield table.find("warm-up-missing", loading.first, text)
            seen.add(date)


def changes_belong_to_no_loading(table: Table, recipes: Recipes) -> Iterator[Finding]:
    """A change row tells a press and its new setting, and nothing of a loading."""
    for changes in table.changes.values():
        for change in changes:
            told = [name for name in _OF_A_LOADING if getattr(change.row, name) not in (None, ())]
            if told:
                yield table.find("change-row", change, f"a change has no {', '.join(told)}; leave that blank")


def settings_are_possible(table: Table, recipes: Recipes) -> Iterator[Finding]:
    """A change row has a whole-degree set-point in the press's range and a pressure the press has."""
    for press_id, changes in table.changes.items():
        press = table.day.presses.get(press_id)
        for change in changes:
            setting = _setting(change)
            if setting is None:
                yield table.find("setting-missing", change, "a change row carries the new temperature and pressure")
                continue
            if not isinstance(setting[0], int):
                yield table.find("whole-degrees", change, f"{setting[0]} degrees; set-points are whole degrees")
            if press is None:
                continue
            lo, hi = press.temperature
            if not lo - 1e-9 <= setting[0] <= hi + 1e-9:
                text = f"set to {setting[0]}; the press can be set from {lo:g} to {hi:g}"
                yield table.find("press-range", change, text)
            words = press.pressures or table.day.pressure_words
            if setting[1] not in words:
                text = f'pressure "{setting[1]}"; the press has {", ".join(words)}'
                yield table.find("press-pressure", change, text)


def rows_show_the_setting(table: Table, recipes: Recipes) -> Iterator[Finding]:
    """Temperature and pressure in a loading's rows are what the press is set to."""
    for loading in table.loadings.values():
        setting = loading.setting
        for entry in [*loading.on_press, *loading.off_press]:
            row = entry.row
            found = (row.temperature, row.pressure)
            closed = entry.what in ("dwell", "prepress")
            if closed and None in found:
                yield table.find("setting-missing", entry, f"a {entry.what} row carries temperature and pressure")
            elif setting is not None and any(f is not None and f != s for f, s in zip(found, setting, strict=True)):
                text = f"{row.temperature}, {row.pressure} is written; the press is at {setting[0]}, {setting[1]}"
                yield table.find("setting-differs", entry, text)


def closings_suit_the_setting(table: Table, recipes: Recipes) -> Iterator[Finding]:
    """The set-point lies in the window of films, garment and films already on it; the pressure is one allowed."""
    for closing in table.closings():
        setting = closing.loading.setting
        if setting is None:
            continue
        for need in recipes.need(closing):
            for bound in need.temperature:
                if not bound.lo <= setting[0] <= bound.hi:
                    yield table.find("set-point", closing.dwell, f"pressed at {setting[0]}; {bound} degrees")
            for words, who in need.pressures:
                if setting[1] not in words:
                    text = f'pressed with "{setting[1]}" pressure; {who} takes {", ".join(words)}'
                    yield table.find("pressure", closing.dwell, text)
