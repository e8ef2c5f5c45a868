"""Where things stand, in words of at most 80 columns and as plain data for --json."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator
from datetime import datetime
from typing import Any

from models.day import Day
from models.plan import Row
from scheduler.logbook.spans import Out
from scheduler.logbook.state import STATUSES, PersonState, PieceStatus, PressState, State
from scheduler.output.cautions import CAUTIONS, SHORT_CAUTION
from scheduler.output.layout import wrapped

WIDTH = 80
_DOES = {
    "change": "set",
    "load": "load",
    "align": "lay on",
    "peel": "peel",
    "unload": "take off",
    "prepress": "prepress",
    "dwell": "press",
}


def status_text(day: Day, state: State) -> str:
    """The state in words: counts by order, then each press and person."""
    return "".join(f"{line}\n" for line in _lines(day, state))


def status_json(day: Day, state: State) -> dict[str, Any]:
    """The state as plain data: counts by order, every piece, presses, people, rushes."""
    return {
        "at": _iso(state.at),
        "orders": [
            {"order": order, "customer": day.orders[order].customer, "pieces": counts.total()}
            | {status.replace(" ", "_"): counts[status] for status in STATUSES}
            for order, counts in state.by_order.items()
        ],
        "pieces": [_piece(state, name) for name in state.pieces],
        "presses": [_press_json(press) for press in state.presses.values()],
        "people": [_person_json(person) for person in state.people.values()],
        "due": [{"order": o, "line": ln, "due": _iso(due)} for (o, ln), due in state.due.items()],
        "priority": [{"order": o, "line": ln, "priority": value} for (o, ln), value in state.priority.items()],
        "cautions": list(CAUTIONS),
    }


def _lines(day: Day, state: State) -> list[str]:
    lines = [*wrapped(f"{day.shop.name or 'The day'} at {_clock(day, state.at)}", WIDTH), "", "Orders"]
    for order, counts in state.by_order.items():
        told = ", ".join(_counted(counts, _between(state)[order]))
        who = f" {day.orders[order].customer}" if day.orders[order].customer else ""
        lines += wrapped(f"{order}{who}: {told} of {counts.total()}{_rushed(day, state, order)}", WIDTH, 6, "  ")
    again = [name for name, piece in state.pieces.items() if piece.again]
    if again:
        lines += wrapped(f"To be pressed again, a press went down with them: {_some(again)}", WIDTH, 6, "  ")
    for line in ("", "Presses"), *(_press(day, state, press) for press in state.presses.values()):
        lines += line
    for line in ("", "People"), *(_person(day, person) for person in state.people.values()):
        lines += line
    return [*lines, "", *wrapped(SHORT_CAUTION, WIDTH)]


def _between(state: State) -> Counter[str]:
    """How many of an order's waiting pieces have been on a press and come to one again."""
    return Counter(piece.order for piece in state.pieces.values() if piece.status == "waiting" and piece.begun)


def _counted(counts: Counter[PieceStatus], between: int) -> Iterator[str]:
    for status in STATUSES:
        if status != "waiting":
            yield from [f"{counts[status]} {status}"] if counts[status] else []
            continue
        yield from [f"{between} between pressings"] if between else []
        yield from [f"{counts[status] - between} not begun"] if counts[status] > between else []


def _rushed(day: Day, state: State, order: str) -> str:
    due = min((at for key, at in state.due.items() if key[0] == order), default=None)
    priority = max((value for key, value in state.priority.items() if key[0] == order), default=None)
    told = f"; rush: now due {_clock(day, due)}" if due else ""
    return told + (f"; rush: priority {priority:g}" if priority is not None else "")


def _press(day: Day, state: State, press: PressState) -> list[str]:
    degrees = f"{press.temperature:.0f} °{day.shop.units.temperature}"
    if press.out:
        stands = f"down since {_clock(day, press.out.start)}{_until(day, press.out)}, now at {degrees}"
    elif press.change:
        stands = f"at {degrees}, changing to {_setting(press.change)} until {_clock(day, press.change.end)}"
    elif press.setting:
        stands = f"set to {degrees} {press.setting[1]}"
    else:
        stands = f"not set, at {degrees}"
    if press.loadings:
        lying = [name for name, piece in state.pieces.items() if piece.loading in press.loadings]
        stands += f"; loading {', '.join(map(str, press.loadings))} on it" + (f", {_some(lying)}" if lying else "")
    return wrapped(f"{press.press}: {stands}{_next(day, press.next)}", WIDTH, 6, "  ")


def _person(day: Day, person: PersonState) -> list[str]:
    if person.out:
        doing = f"absent since {_clock(day, person.out.start)}{_until(day, person.out)}"
    else:
        doing = _act(person.doing) if person.doing else "free"
    return wrapped(f"{person.person}: {doing}{_next(day, person.next)}", WIDTH, 6, "  ")


def _until(day: Day, out: Out) -> str:
    return f" until {_clock(day, out.end)}" if out.end else ", nobody knows until when"


def _next(day: Day, row: Row | None) -> str:
    return f"; next {_clock(day, row.start)} {_act(row)}" if row else "; nothing comes after that"


def _act(row: Row) -> str:
    if row.what == "change":
        return f"set to {_setting(row)}"
    where = f" on {row.press}" if row.press else " off the press"
    return f"{_DOES[row.what]} {_some(row.pieces)} {row.placement}{where}"


def _setting(row: Row) -> str:
    return f"{row.temperature}° {row.pressure}"


def _some(names: Iterable[str]) -> str:
    listed = list(names)
    rest = len(listed) - 3
    return ", ".join(listed[:3]) + (f" and {rest} more" if rest > 0 else "")


def _clock(day: Day, at: datetime) -> str:
    """Time of day, with the date where it is another than the first."""
    told = f"{at:%H:%M:%S}".removesuffix(":00")
    return told if at.date() == day.start.date() else f"{at:%Y-%m-%d} {told}"


def _iso(at: datetime | None) -> str | None:
    return None if at is None else at.isoformat(timespec="seconds")


def _piece(state: State, name: str) -> dict[str, Any]:
    piece = state.pieces[name]
    return {
        "piece": name,
        "status": piece.status,
        "done": dict(piece.done),
        "begun": piece.begun,
        "loading": piece.loading,
        "press": piece.press,
        "again": piece.again,
        "ready": _iso(piece.ready),
        "spoiled": _iso(piece.spoiled),
    }


def _press_json(press: PressState) -> dict[str, Any]:
    return {
        "press": press.press,
        "temperature": round(press.temperature, 1),
        "setting": None if press.setting is None else list(press.setting),
        "change": _row(press.change),
        "down": press.out is not None,
        "down_until": _iso(press.out.end) if press.out else None,
        "loadings": list(press.loadings),
        "next": _row(press.next),
    }


def _person_json(person: PersonState) -> dict[str, Any]:
    return {
        "person": person.person,
        "absent": person.out is not None,
        "absent_until": _iso(person.out.end) if person.out else None,
        "doing": _row(person.doing),
        "next": _row(person.next),
    }


def _row(row: Row | None) -> dict[str, Any] | None:
    if row is None:
        return None
    return {
        "start": _iso(row.start),
        "end": _iso(row.end),
        "what": row.what,
        "press": row.press,
        "loading": row.loading,
        "pieces": list(row.pieces),
        "placement": row.placement,
        "temperature": row.temperature,
        "pressure": row.pressure,
    }
