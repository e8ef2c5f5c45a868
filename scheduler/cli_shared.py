"""What the commands share: options, moments, and what can go wrong turned into messages and exit codes."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date, datetime
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Any, NoReturn

import typer
from typer.core import TyperGroup

Folder = Annotated[Path, typer.Argument(help="The day folder: shop.toml, catalog.toml, designs.toml, orders.csv.")]
Json = Annotated[bool, typer.Option("--json", help="A machine-readable answer on standard output.")]

CLOCK = re.compile(r"\d{1,2}:\d{2}(:\d{2})?")  # a time of day alone
BAD_INPUT, NO_PLAN, AUDIT_FAILED = 1, 3, 4
STOPPED = 130  # as shells have it for an interrupt
_MOST_SHOWN = 200


class EffortChoice(StrEnum):
    """How hard to think."""

    quick = "quick"
    normal = "normal"
    thorough = "thorough"


class PlainWords(TyperGroup):
    """Says what is wrong with a command line in plain words."""

    def invoke(self, ctx: Any) -> Any:
        """As the group does."""
        try:
            return super().invoke(ctx)
        except typer.BadParameter as error:
            from models.problem import in_plain_words

            error.message = in_plain_words(error.message)
            raise


def moment_of(text: str, option: str, on: Callable[[], date] = date.today) -> datetime:
    """A moment given to an option; left out: now, to the second; a time of day alone: on that date."""
    from models.shop import moment

    try:
        if CLOCK.fullmatch(text.strip()):
            return moment(f"{on()}T{text.strip()}")
        return moment(text) if text else datetime.now().replace(microsecond=0)
    except ValueError as error:
        right = f'{error}, or a time of the plan\'s day, as "10:42"'
        raise typer.BadParameter(f"{text!r}: {right}", param_hint=option) from None


def day_of(folder: Path) -> Callable[[], date]:
    """What date a time of day is meant on: today where the plan works today, else its first day of work."""

    def found() -> date:
        from models.problem import BadInput
        from scheduler.output.files import read_plan

        try:
            plan = read_plan(folder / "plan" / "plan.json")
        except BadInput:
            return date.today()  # the command itself says what is wrong with the plan
        first = min((campaign.start.date() for campaign in plan.campaigns), default=plan.start.date())
        return date.today() if first <= date.today() <= plan.finish.date() else first

    return found


class Problems:
    """Turns what can go wrong into messages and exit codes (contract, section 8). `writes`: the command would."""

    def __init__(self, as_json: bool = False, writes: bool = True) -> None:
        self.as_json, self.writes = as_json, writes

    def __enter__(self) -> None:
        return None

    def __exit__(self, kind: object, error: BaseException | None, trace: object) -> None:
        if error is None:
            return
        from models.problem import BadInput, Faulted, NoPlan
        from scheduler.output.lock import Busy

        if isinstance(error, BadInput):
            self._bad_input(error)
        if isinstance(error, NoPlan):
            self._say({"sound": True, "reasons": list(error.reasons)}, ["There is no plan:", *error.reasons], NO_PLAN)
        if isinstance(error, Faulted):
            head = "The plan found breaks a rule by its own audit, so it was not written:"
            self._say({"sound": True, "findings": list(error.reasons)}, [head, *error.reasons], AUDIT_FAILED)
        if isinstance(error, Busy):
            self._say({"busy": str(error)}, [str(error)], BAD_INPUT)
        if isinstance(error, OSError):
            self._say({"problem": str(error)}, [f"{error.filename or ''}: {error.strerror or error}"], BAD_INPUT)
        if isinstance(error, KeyboardInterrupt):
            self._say({"stopped": True}, ["Stopped; nothing was written." if self.writes else "Stopped."], STOPPED)

    def _bad_input(self, error: object) -> NoReturn:
        from models.problem import BadInput

        assert isinstance(error, BadInput)
        count = len(error.problems)
        lines = [str(problem) for problem in error.problems[:_MOST_SHOWN]]
        if count > _MOST_SHOWN:
            lines.append(f"... and {count - _MOST_SHOWN} more (--json lists them all)")
        head = f"{count} problem{'s' if count != 1 else ''}{'; nothing was written.' if self.writes else ':'}"
        self._say({"sound": False, "problems": [plain(p) for p in error.problems]}, [head, *lines], BAD_INPUT)

    def _say(self, answer: dict[str, object], lines: list[str], code: int) -> NoReturn:
        if self.as_json:
            print_json(answer)
        typer.echo("\n".join(lines), err=True)
        raise typer.Exit(code)


def plain(item: object) -> dict[str, object]:
    """A dataclass as plain data."""
    from dataclasses import asdict, is_dataclass

    assert is_dataclass(item) and not isinstance(item, type)
    return asdict(item)


def answer(as_json: bool, data: object, text: str) -> None:
    """An answer for a program, or the same for a person."""
    if as_json:
        print_json(data)
    else:
        typer.echo(_fitted(text))


def note(text: str) -> None:
    """A message on standard error beside the answer."""
    typer.echo(_fitted(text), err=True)


def _fitted(text: str) -> str:
    from scheduler.output.layout import fitted

    return fitted(text)


def print_json(answer: object) -> None:
    """The answer on standard output."""
    import json

    typer.echo(json.dumps(answer, ensure_ascii=False, indent=1))
