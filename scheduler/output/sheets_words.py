"""Words of the sheets: times, settings, ranges of pieces, names of files. Nothing here is escaped."""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from datetime import datetime

from models.plan import Finish
from models.units import Window
from scheduler.output.layout import on_the_minute


def clock(at: datetime, up: bool = False) -> str:
    """08:11; a begun minute counts whole where `up`."""
    return f"{on_the_minute(at, up):%H:%M}"


def stretch(start: datetime, end: datetime) -> str:
    """08:11–08:32, begun minutes counted whole."""
    return f"{clock(start)}–{clock(end, up=True)}"


def moment(at: datetime, several_dates: bool, up: bool = False) -> str:
    """A time of day, with its date where the plan lies on several."""
    at = on_the_minute(at, up)
    return f"{at:%a} {at.day} {at:%b} {at:%H:%M}" if several_dates else f"{at:%H:%M}"


def kept(text: str) -> str:
    """The text with figures and their units, and counts and their signs, never parted at a line's end."""
    return re.sub(r"(?<=\d) (?=(?:s|min|h|×|°[CF]?)(?![\w]))", "\N{NO-BREAK SPACE}", text)


def seconds(span: tuple[int, int]) -> str:
    """15 s, or 15–18 s where loadings differ."""
    return f"{span[0]} s" if span[0] == span[1] else f"{span[0]}–{span[1]} s"


def layer_words(layers: Sequence[int]) -> str:
    """Layer 2, layers 1, 3."""
    return f"layer{'s' if len(layers) > 1 else ''} {', '.join(map(str, layers))}"


def peel_time(window: Window) -> str:
    """When a peel may start after the press opens, in seconds."""
    if window.hi is None:
        return f"no sooner than {window.lo} s after opening" if window.lo else "any time after opening"
    if window.lo == window.hi:
        return f"{window.lo} s after opening"
    return f"{window.lo} to {window.hi} s after opening"


def piece_ranges(pieces: Iterable[str]) -> str:
    """2104-1-001 to 012, 014: what follows on each other is taken together, what they share is said once."""
    found: list[list[str]] = []
    for piece in pieces:
        if found and _follows(found[-1][-1], piece):
            found[-1].append(piece)
        else:
            found.append([piece])
    said: list[str] = []
    head = ""
    for run in found:
        first, last = run[0], _last(run[-1])
        said.append((_last(first) if said and _head(first) == head else first) + (f" to {last}" if run[1:] else ""))
        head = _head(first)
    return ", ".join(said)


def _head(piece: str) -> str:
    return piece.rpartition("-")[0]


def _last(piece: str) -> str:
    return piece.rpartition("-")[2]


def _follows(one: str, other: str) -> bool:
    (head, _, last), (other_head, _, number) = one.rpartition("-"), other.rpartition("-")
    return head == other_head and last.isdigit() and number.isdigit() and int(number) == int(last) + 1


def promise(order: Finish) -> str:
    """Whether the due time holds: promised, LATE by so many minutes, or none given."""
    if order.due is None:
        return "no due time given"
    if order.late_min:
        return f"LATE by {-(-order.late_min // 1):.0f} min"
    return "the due time holds"


def slugs(kind: str, ids: Sequence[str]) -> dict[str, str]:
    """A file name for each id, of plain letters, digits and hyphens, no two alike also where case is not told apart."""
    found: dict[str, str] = {}
    taken: set[str] = set()
    for name in ids:
        plain = re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")[:40].strip("-") or "unnamed"
        slug, number = plain, 1
        while slug in taken:
            number += 1
            slug = f"{plain}-{number}"
        taken.add(slug)
        found[name] = f"{kind}-{slug}.html"
    return found
