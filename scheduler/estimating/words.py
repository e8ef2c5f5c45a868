"""An estimate in words and as JSON."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import asdict
from datetime import datetime
from typing import Any

from models.day import Day
from models.order import OrderLine
from scheduler.estimating.answer import Estimate, Moved
from scheduler.estimating.blanks import STEP
from scheduler.estimating.goals import WORTH
from scheduler.estimating.need import ASSUMED, FilmNeed
from scheduler.output.cautions import SHORT_CAUTION
from scheduler.output.layout import counted, number, on_the_minute, wrapped

_WIDTH = 80


def estimate_text(day: Day, answer: Estimate, width: int = _WIDTH) -> str:
    """The estimate in plain lines of at most `width` columns."""
    lines: list[str] = []
    for text in _said(day, answer):
        indent = len(text) - len(text.lstrip())
        lines += wrapped(text.strip(), width, indent + 2, " " * indent) if text else [""]
    return "".join(f"{line}\n" for line in lines)


def _said(day: Day, answer: Estimate) -> Iterator[str]:
    yield from (_asked(line) for line in answer.lines)
    yield ""
    yield from _finish(day, answer)
    yield ""
    yield from _first(day, answer)
    yield ""
    yield from _need(day, answer)
    yield ""
    yield _blanks(day, answer)
    yield ""
    yield f"Reckoned beside {answer.today}. {_found()}"
    yield SHORT_CAUTION


def _asked(line: OrderLine) -> str:
    times = "".join(
        f", {word} {when:%Y-%m-%d %H:%M}" for word, when in (("ready", line.ready), ("due", line.due)) if when
    )
    size = f" {line.size}" if line.size else ""
    return f"Asked: {counted(line.quantity, 'piece')} of {line.garment}{size} with {line.design}{times}"


def _finish(day: Day, answer: Estimate) -> Iterator[str]:
    done = _at(day, answer.finish, up=True)
    if answer.kept:
        yield f"Done {done}, with every promise kept as it is today."
    else:
        yield f"No plan was found that leaves every promise as it is. The one that harms least is done {done}."
    if answer.late_min:
        yield f"That is {number(answer.late_min)} min after it is due."
    more = answer.changes - answer.changes_today
    if more:
        than = "more" if more > 0 else "fewer"
        yield f"  It takes {counted(abs(more), 'change')} of setting {than} than today's plan."
    yield from _moved(day, answer.others, "Done later than today, by then:")


def _first(day: Day, answer: Estimate) -> Iterator[str]:
    if answer.kept and answer.first_finish == answer.finish and answer.first_others == answer.others:
        yield "It can go before everything else: that is this plan, and it costs nobody their promise."
        return
    yield f"Put before everything else: done {_at(day, answer.first_finish, up=True)}."
    yield from _moved(day, answer.first_others, "It would cost the others:")
    if not answer.first_others:
        yield "  Nobody else would be done later."


def _moved(day: Day, moved: tuple[Moved, ...], head: str) -> Iterator[str]:
    if moved:
        yield f"  {head}"
    for one in moved:
        who = f" {one.customer}" if one.customer else ""
        times = f"done {_at(day, one.then, up=True)} instead of {_at(day, one.today, up=True)}"
        yield f"    {one.order}{who}: {times}{_promise(day, one)}"


def _promise(day: Day, one: Moved) -> str:
    if one.due is None or one.late_min is None:
        return ", no due time"
    if not one.late_min:
        return f", due {_at(day, one.due)}, still in time"
    before = f" (today {number(one.late_today_min)})" if one.late_today_min else ""
    return f", due {_at(day, one.due)}: LATE by {number(one.late_min)} min{before}"


def _need(day: Day, answer: Estimate) -> Iterator[str]:
    need = answer.need
    presses = ", ".join(f"{press} {number(took)}" for press, took in need.press_min.items())
    yield f"It takes {number(need.labour_min)} person-minutes, and minutes on the press: {presses}."
    for film in need.film:
        yield f"  {_film(day, film)}"
    yield f"  {ASSUMED}"


def _film(day: Day, film: FilmNeed) -> str:
    unit = day.shop.units.length
    cuts = f"{film.film}: {counted(film.cuts, 'cut')}, {film.area:g} sq {unit}"
    if film.roll_width is None:
        return f"{cuts}; catalog.toml gives no roll"
    rows = "does not fit across it" if film.in_rows is None else f"{film.in_rows:g} {unit} in rows"
    return f"{cuts}; on a roll {film.roll_width:g} {unit} wide {film.by_area:g} {unit} by area, {rows}"


def _blanks(day: Day, answer: Estimate) -> str:
    until = _at(day, answer.blanks_for, up=True)
    if answer.blanks_by is None:
        return f"No plan was found that has it done by {until} with every promise kept, however early the blanks come."
    return f"To be done by {until} the blanks must be there by {_at(day, answer.blanks_by)} at the latest."


def _found() -> str:
    return (
        f"All times are found by trying whole plans (effort quick): better may exist. A minute earlier was taken to be "
        f"worth {WORTH:g} minutes of time and trouble, and the blanks' time was sought in steps of {STEP // 60} min."
    )


def _at(day: Day, at: datetime, up: bool = False) -> str:
    at = on_the_minute(at, up)
    return f"{at:%H:%M}" if at.date() == day.start.date() else f"{at:%a} {at.day} {at:%b} {at:%H:%M}"


def estimate_json(answer: Estimate) -> dict[str, Any]:
    """The estimate for --json; times as in the files, minutes to a hundredth."""
    return {
        "lines": [line.model_dump(mode="json") for line in answer.lines],
        "beside": answer.today,
        "finish": answer.finish.isoformat(),
        "promises_kept": answer.kept,
        "late_min": answer.late_min,
        "others": [_moved_json(one) for one in answer.others],
        "first": {
            "finish": answer.first_finish.isoformat(),
            "others": [_moved_json(one) for one in answer.first_others],
        },
        "labour_min": answer.need.labour_min,
        "press_min": dict(answer.need.press_min),
        "film": [asdict(film) for film in answer.need.film],
        "changes": answer.changes,
        "changes_today": answer.changes_today,
        "blanks_for": answer.blanks_for.isoformat(),
        "blanks_by": answer.blanks_by.isoformat() if answer.blanks_by else None,
        "assumed": [ASSUMED, _found()],
    }


def _moved_json(one: Moved) -> dict[str, Any]:
    return {
        "order": one.order,
        "customer": one.customer,
        "due": one.due.isoformat() if one.due else None,
        "finish_today": one.today.isoformat(),
        "finish": one.then.isoformat(),
        "late_today_min": one.late_today_min,
        "late_min": one.late_min,
    }
