"""`pressday compare`: the day as it is beside variants of itself, planned side by side."""

from __future__ import annotations

import json
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from models.problem import BadInput, Problem
from scheduler.comparing.changes import Change, Variant, other_folder, variants_of
from scheduler.comparing.figures import Outcome
from scheduler.comparing.late import helps
from scheduler.comparing.page import compare_page
from scheduler.comparing.run import run
from scheduler.comparing.words import comparison_json, comparison_text
from scheduler.intake import read_day
from scheduler.output.files import recover
from scheduler.output.layout import fitted, lasting, on_the_minute
from scheduler.output.terminal import say_text
from scheduler.planning import plan_day
from scheduler.solving.efforts import EffortName

AS_IT_IS = "as it is"
PAGE = "compare.html"


@dataclass(frozen=True)
class Compared:
    """What was compared, the day as it is first, and the page written."""

    outcomes: list[Outcome]
    page: Path


def compare_folder(
    folder: Path,
    changes: Sequence[Change],
    also: Sequence[Path] = (),
    late: bool = False,
    effort: EffortName = "normal",
    page: Path | None = None,
    silent: bool = False,
    now: datetime | None = None,
) -> Compared:
    """Plan the variants and write the page; plan/ is left alone. Raises BadInput, NoPlan where `late` finds none.

    `late`: also what would help the orders that are late.
    """
    now = now or datetime.now().replace(microsecond=0)
    path = page or folder / PAGE
    if folder.is_dir():
        recover(folder)
    day = read_day(folder, now)
    if not path.parent.is_dir():  # said before the planning, which takes long
        raise _unwritable(path, "there is no such folder")
    variants = [Variant(AS_IT_IS, "the folder as it stands", day), *variants_of(folder, changes, now)]
    variants += [other_folder(path, now) for path in also]
    known = plan_day(day, effort) if late else None
    if known is not None:
        asked = {change.option for change in changes}
        helping = [change for change in helps(day, known.plan) if change.option not in asked]
        variants += variants_of(folder, helping, now)
    outcomes = run(variants, effort, quiet if silent else tell_outcome, known=known)
    _write(path, compare_page(day, outcomes, effort))
    return Compared(outcomes, path)


def changes_asked(asked: Sequence[tuple[Callable[[str], Change], str]]) -> list[Change]:
    """The changes of all options. Raises BadInput with every one that is not written as it should be."""
    problems: list[Problem] = []
    found = []
    for make, text in asked:
        try:
            found.append(make(text))
        except BadInput as bad:
            problems += bad.problems
    if problems:
        raise BadInput(problems)
    return found


def compare_and_say(
    folder: Path,
    asked: Sequence[tuple[Callable[[str], Change], str]],
    also: Sequence[Path],
    late: bool,
    effort: EffortName,
    page: Path | None,
    as_json: bool,
) -> None:
    """Compare and print. Raises BadInput, NoPlan."""
    compared = compare_folder(folder, changes_asked(asked), also, late, effort, page, as_json)
    if as_json:
        answer = comparison_json(compared.outcomes, effort) | {"page": str(compared.page)}
        sys.stdout.write(json.dumps(answer, ensure_ascii=False, indent=1) + "\n")
        return
    say_text(comparison_text(compared.outcomes, effort))
    say_text(f"The same as a page: {compared.page}\n")


def tell_outcome(outcome: Outcome, done: int, of: int) -> None:
    """A line on standard error for each variant that is through."""
    f = outcome.figures
    end = "no plan" if f is None else f"done {on_the_minute(f.finish, up=True):%a %H:%M}"
    told = f"{done} of {of} planned: {outcome.name}, {end} ({lasting(outcome.seconds)})"
    print(fitted(told), file=sys.stderr, flush=True)


def quiet(outcome: Outcome, done: int, of: int) -> None:
    """Nothing, where a machine reads."""


def _write(path: Path, text: str) -> None:
    try:
        path.write_text(text, encoding="utf-8")
    except OSError as error:
        raise _unwritable(path, error.strerror) from None


def _unwritable(path: Path, why: str | None) -> BadInput:
    wrong = f"the page cannot be written there ({why})"
    return BadInput([Problem(str(path), "", "", "", wrong, "Name another file with --page FILE.")])
