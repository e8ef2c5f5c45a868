"""Changes to try on a day, each an edit of what stands in the folder's files, read again by the intake's own checks."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from pathlib import Path
from typing import Any

from models.base import MAX_TEMPERATURE
from models.day import Day
from models.problem import BadInput, Problem
from models.shop import clock
from scheduler.intake import read_day
from scheduler.intake.findings import suggest
from scheduler.intake.references import Raw

Edit = Callable[[Raw], None]
_MIDNIGHT = 86_400
_CLOSE = 17 * 3600  # as Hours has it where shop.toml leaves it out


class Refused(Exception):
    """What is wrong with a change, and what would be right."""


@dataclass(frozen=True)
class Variant:
    """A day to be planned, its name for tables, and what is other in it, in words. `option`: as it was asked for."""

    name: str
    words: str
    day: Day
    option: str = ""


@dataclass(frozen=True)
class Change:
    """One change: the option that asked for it, a short name, words, and the edit."""

    option: str
    name: str
    words: str
    edit: Edit


def variants_of(folder: Path, changes: Sequence[Change], now: datetime | None = None) -> list[Variant]:
    """One variant a change. Raises BadInput with the problems of all of them, each with the option it comes from."""
    problems: list[Problem] = []
    found: list[Variant] = []
    for change in changes:
        try:
            day = read_day(folder, now, change.edit)
        except Refused as refused:
            wrong, right = refused.args
            problems.append(Problem(change.option, "", "", "", wrong, right))
        except BadInput as bad:
            problems += [replace(problem, file=f"{change.option}: {problem.file}") for problem in bad.problems]
        else:
            found.append(Variant(change.name, change.words, day, change.option))
    if problems:
        raise BadInput(problems)
    return found


def add_press(text: str) -> Change:
    """NAME, NAME=OTHER or NAME=like OTHER: one more press; without OTHER like the first of shop.toml."""
    name, like = _like(text)
    words = f"one more press, {name}, like {like}" if like else f"one more press, {name}, like the first"

    def edit(raw: Raw) -> None:
        presses = _tables(raw.shop, "press")
        other = _named(presses, like, "press") if like else presses[0]
        _free(presses, name, "press")
        presses.append({key: value for key, value in other.items() if key not in ("away", "at_start")} | {"id": name})
        for person in _tables(raw.shop, "person"):
            if other["id"] in person.get("presses", ()):
                person["presses"] = [*person["presses"], name]

    return Change(f"--add-press {text}", f"+ press {name}", words, edit)


def add_person(text: str) -> Change:
    """NAME, NAME=OTHER or NAME=like OTHER: one more person; without OTHER with the shop's hours and a pace of 1."""
    name, like = _like(text)

    def edit(raw: Raw) -> None:
        people = _tables(raw.shop, "person")
        _free(people, name, "person")
        other = {key: v for key, v in _named(people, like, "person").items() if key != "away"} if like else {}
        people.append(other | {"id": name})

    words = f"one more person, {name}" + (f", like {like}" if like else "")
    return Change(f"--add-person {text}", f"+ {name}", words, edit)


def without_press(name: str) -> Change:
    """The day without a press."""

    def edit(raw: Raw) -> None:
        presses = _tables(raw.shop, "press")
        gone = _named(presses, name, "press")
        if len(presses) == 1:
            raise Refused("it is the only press", "Leave one to work on.")
        presses.remove(gone)
        people = _tables(raw.shop, "person")
        for person in people:
            if "presses" in person:
                person["presses"] = [press for press in person["presses"] if press != name]
        left = [person for person in people if person.get("presses") != []]
        if not left:
            raise Refused("nobody runs any of the presses that are left", "Give somebody another press first.")
        assert raw.shop is not None
        raw.shop["person"] = left

    return Change(f"--without {name}", f"- press {name}", f"without the press {name}", edit)


def without_person(name: str) -> Change:
    """The day without a person."""

    def edit(raw: Raw) -> None:
        people = _tables(raw.shop, "person")
        gone = _named(people, name, "person")
        if len(people) == 1:
            raise Refused("it is the only person", "Leave one to work.")
        people.remove(gone)

    return Change(f"--without-person {name}", f"- {name}", f"without {name}", edit)


def overtime(text: str) -> Change:
    """The shop open so many minutes longer; everyone stays who stays till closing time otherwise."""
    minutes = _number(text, f"--overtime {text}", "minutes")

    def edit(raw: Raw) -> None:
        assert raw.shop is not None
        hours = raw.shop.setdefault("hours", {})
        closes = clock(hours["close"]) if "close" in hours else _CLOSE
        later = closes + round(60 * minutes)
        if minutes <= 0 or later > _MIDNIGHT:
            most = (_MIDNIGHT - closes) // 60
            raise Refused(f"the shop closes {_hhmm(closes)}", f"Write minutes above 0 and up to {most}, to midnight.")
        hours["close"] = _hhmm(later)
        for person in _tables(raw.shop, "person"):
            if "close" in person and clock(person["close"]) >= closes:
                person["close"] = _hhmm(max(later, clock(person["close"])))

    return Change(f"--overtime {text}", f"+ {text} min", f"open {text} minutes longer", edit)


def film_window(text: str) -> Change:
    """FILM=LOW:HIGH: another window of temperature for a film, as another film of the kind might have."""
    name, value = _pair(text, "--film-window", "FILM=LOW:HIGH")
    low, _, high = value.partition(":")
    option = f"--film-window {text}"
    window = [_number(low, option, "the lowest temperature"), _number(high or low, option, "the highest temperature")]

    def edit(raw: Raw) -> None:
        if max(window) > MAX_TEMPERATURE:
            raise Refused("no press is so hot", f"Write at most {MAX_TEMPERATURE:g} degrees.")
        _named(_tables(raw.catalog, "film"), name, "film")["temperature"] = window

    return Change(option, f"{name} {value}", f"film {name} at {low} to {high or low} degrees", edit)


def pace(text: str) -> Change:
    """PERSON=FACTOR: another pace; 1.2 is slower."""
    name, value = _pair(text, "--pace", "PERSON=FACTOR")
    factor = _number(value, f"--pace {text}", "the factor")

    def edit(raw: Raw) -> None:
        _named(_tables(raw.shop, "person"), name, "person")["pace"] = factor

    return Change(f"--pace {text}", f"{name} pace {value}", f"{name} at a pace of {value}", edit)


def priority(text: str) -> Change:
    """ORDER=PRIORITY: another priority for all lines of an order."""
    name, value = _pair(text, "--priority", "ORDER=PRIORITY")
    number = _number(value, f"--priority {text}", "the priority")

    def edit(raw: Raw) -> None:
        lines = raw.lines or []
        if name not in {line.order for line in lines}:
            raise Refused("there is no such order", suggest(name, [line.order for line in lines], "order"))
        if not 0 < number <= 1000:
            raise Refused("no priority is like that", "Write a number above 0 and up to 1000.")
        for line in lines:
            if line.order == name and line.value is not None:
                line.value = line.value.model_copy(update={"priority": number})

    return Change(f"--priority {text}", f"{name} priority {value}", f"order {name} at priority {value}", edit)


def other_folder(path: Path, now: datetime | None = None) -> Variant:
    """A second folder, as it is. Raises BadInput."""
    return Variant(path.name or str(path), f"the folder {path}", read_day(path, now), f"--also {path}")


def _tables(node: dict[str, Any] | None, kind: str) -> list[dict[str, Any]]:
    found = (node or {}).get(kind)
    if not isinstance(found, list) or not all(isinstance(item, dict) and "id" in item for item in found):
        raise Refused(f"the folder's [[{kind}]] tables cannot be read", "Mend the folder first: pressday check DIR.")
    return found


def _named(tables: Sequence[dict[str, Any]], name: str, what: str) -> dict[str, Any]:
    for table in tables:
        if table["id"] == name:
            return table
    raise Refused(f'there is no {what} "{name}"', suggest(name, [str(table["id"]) for table in tables], what))


def _free(tables: Sequence[dict[str, Any]], name: str, what: str) -> None:
    if any(str(table["id"]).casefold() == name.casefold() for table in tables):
        raise Refused(f'there is a {what} "{name}" already', "Choose another name for the new one.")


def _like(text: str) -> tuple[str, str]:
    name, _, like = text.partition("=")
    return name.strip(), like.strip().removeprefix("like ").strip()


def _pair(text: str, option: str, form: str) -> tuple[str, str]:
    name, found, value = text.rpartition("=")
    if not found or not name.strip() or not value.strip():
        raise BadInput([Problem(f"{option} {text}", "", "", "", "it is not written so", f"Write {option} {form}.")])
    return name.strip(), value.strip()


def _number(text: str, option: str, what: str) -> float:
    try:
        value = float(text)
        if abs(value) < 1e9:
            return value
    except ValueError:
        pass
    raise BadInput([Problem(option, "", "", text, f"{what} must be a plain number", "Write digits, with a point.")])


def _hhmm(seconds: int) -> str:
    return f"{seconds // 3600:02d}:{seconds % 3600 // 60:02d}:{seconds % 60:02d}"
