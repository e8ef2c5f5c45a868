"""From when to when a press was down or a person absent, out of the log's lines."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Literal

from models.day import Day, Outages
from models.log import Entry
from scheduler import calendar
from scheduler.calendar import HORIZON_DAYS, Spans

Kind = Literal["press", "person"]
_WORDS: dict[Kind, tuple[str, str]] = {"press": ("down", "up"), "person": ("absent", "back")}


@dataclass(frozen=True, slots=True)
class Out:
    """A time out of work, [start, end); `end` None: nobody knows yet."""

    start: datetime
    end: datetime | None

    def holds(self, at: datetime) -> bool:
        """Whether it was out at that moment."""
        return self.start <= at and (self.end is None or at < self.end)


def in_time(entries: Iterable[Entry]) -> list[Entry]:
    """The entries by their times; those of one moment as they stand in the file."""
    return sorted(entries, key=lambda entry: entry.at)


def outs(entries: Iterable[Entry], kind: Kind) -> dict[str, list[Out]]:
    """Each press's or person's times out of work, by time. A second `down` corrects the first one's end."""
    found: dict[str, list[Out]] = {}
    for name, entry in _named(entries, kind):
        spans = found.setdefault(name, [])
        running = spans[-1] if spans and spans[-1].holds(entry.at) else None
        if entry.what == _WORDS[kind][0]:
            if running:
                spans[-1] = Out(running.start, entry.until)
            else:
                spans.append(Out(entry.at, entry.until))
        elif running:
            spans[-1] = Out(running.start, entry.at)
    return found


def with_outs(day: Day, entries: Sequence[Entry]) -> Day:
    """The day with presses away while they are down and people while they are absent, as it is to be shown.

    Where nobody knows until when: to the end of what can be planned. `down` and `absent` tell it as the log does.
    """
    last = day.start + timedelta(days=HORIZON_DAYS + 1)

    def away(out: Out) -> tuple[datetime, datetime]:
        return out.start, out.end or max(last, out.start + timedelta(days=1))

    downs, absent = outs(entries, "press"), outs(entries, "person")
    press = [p.model_copy(update={"away": (*p.away, *map(away, downs.get(p.id, ())))}) for p in day.shop.press]
    person = [p.model_copy(update={"away": (*p.away, *map(away, absent.get(p.id, ())))}) for p in day.shop.person]
    shop = day.shop.model_copy(update={"press": tuple(press), "person": tuple(person)})
    return replace(day, shop=shop, down=_outages(downs), absent=_outages(absent))


def _outages(times: Mapping[str, Sequence[Out]]) -> Outages:
    return {name: tuple((out.start, out.end) for out in spans) for name, spans in times.items()}


def spans_of(day: Day, times: Sequence[Out]) -> Spans:
    """Times out of work in seconds from the day's start; what nobody knows the end of lasts as long as any plan."""
    beyond = calendar.HORIZON_DAYS * 86_400
    return calendar.union(
        (day.seconds(out.start), beyond if out.end is None else day.seconds(out.end)) for out in times
    )


def spans_by_name(day: Day, entries: Iterable[Entry], kind: Kind) -> Mapping[str, Spans]:
    """The same for each press or person that the log says was out."""
    return {name: spans_of(day, times) for name, times in outs(entries, kind).items()}


def not_out(entries: Iterable[Entry], kind: Kind) -> Iterator[tuple[Entry, datetime | None]]:
    """The lines that end what had not begun, each with when the last one before it had ended, if there was one."""
    before: dict[str, list[Entry]] = {}
    for name, entry in _named(entries, kind):
        past = before.setdefault(name, [])
        spans = outs(past, kind).get(name, [])
        if entry.what == _WORDS[kind][1] and not any(span.holds(entry.at) for span in spans):
            yield entry, spans[-1].end if spans else None
        else:
            past.append(entry)


def _named(entries: Iterable[Entry], kind: Kind) -> Iterator[tuple[str, Entry]]:
    for entry in in_time(entries):
        name = entry.press if kind == "press" else entry.person
        if name is not None and entry.what in _WORDS[kind]:
            yield name, entry
