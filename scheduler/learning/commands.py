"""`pressday learn`: a folder's plan and log read, what they teach told, and put into shop.toml where that is wanted."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import nullcontext
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from models.log import Entry
from models.problem import BadInput, Problem
from scheduler.learning import shopfile
from scheduler.learning.propose import Lesson, Proposal, learn
from scheduler.logbook.book import read_log
from scheduler.logbook.commands import read_running
from scheduler.output.layout import wrapped
from scheduler.output.lock import locked

_WIDTH = 80


@dataclass(frozen=True)
class Told:
    """What was learnt, the change of shop.toml it comes to, and whether that was made."""

    lesson: Lesson
    diff: str
    accepted: bool


def learn_folder(folder: Path, accept: bool = False) -> Told:
    """What the folder's log teaches; `accept`: write it into shop.toml, whole or not at all.

    Raises BadInput where folder, plan or log are wrong or there is no log, Busy where another run is at work there.
    """
    if not folder.is_dir():
        read_running(folder)  # says what is wrong with it
    with locked(folder) if accept else nullcontext():
        running = read_running(folder)
        log = read_log(folder, running.day, running.rows)
        _some(folder, log)
        lesson = learn(running.day, running.rows, log)
        text = shopfile.read(folder)
        new = shopfile.changed(text, {p.path: p.value for p in lesson.proposals if p.differs})
        if accept and new != text:
            shopfile.write(folder, new)
    return Told(lesson, shopfile.diff(text, new), accept and new != text)


def told_text(told: Told) -> str:
    """What was learnt, in words."""
    said = [_words(p) for p in told.lesson.proposals] or ["The log teaches nothing that could be put into figures."]
    lines = [line for sentence in said for line in wrapped(sentence, _WIDTH, 4)]
    lines += _listed("Too little to say:", told.lesson.thin)
    if told.diff:
        lines += ["", "Written into shop.toml; plan again:" if told.accepted else "Proposed (--accept writes it):", ""]
        lines += told.diff.splitlines()
    elif told.lesson.proposals:
        lines += ["", "shop.toml stands: nothing in it is contradicted."]
    lines += _listed("To be changed by hand, in proportion:", told.lesson.elsewhere)
    return "\n".join(lines) + "\n"


def told_json(told: Told) -> dict[str, Any]:
    """The same as plain data."""
    proposals = [asdict(p) | {"path": list(p.path), "differs": p.differs} for p in told.lesson.proposals]
    return {
        "proposals": proposals,
        "thin": list(told.lesson.thin),
        "elsewhere": list(told.lesson.elsewhere),
        "diff": told.diff,
        "accepted": told.accepted,
    }


def _words(p: Proposal) -> str:
    verdict = f"{p.value:g} instead of {p.written:g}" if p.differs else f"{p.written:g} stands ({p.value:g} seen)"
    together = f"; told only together with {', '.join(p.group)}" if p.group else ""
    return f"{p.name}: {verdict}, between {p.low:g} and {p.high:g} in 95 of 100 cases, from {p.seen}{together}"


def _listed(head: str, sentences: Sequence[str]) -> list[str]:
    told = [line for sentence in sentences for line in wrapped(sentence, _WIDTH, 4, "  - ")]
    return ["", head, *told] if told else []


def _some(folder: Path, log: Sequence[Entry]) -> None:
    if not log:
        right = 'Log what is done, as: pressday log DIR done --press PRESS, or: pressday log DIR spoiled --pieces "..."'
        raise BadInput([Problem("log.csv", "", "", "", f"nothing is logged in {folder}", right)])
