"""The commands of the running day: what happened, where things stand, what is learnt, planning again."""

from __future__ import annotations

import itertools
from datetime import datetime
from typing import Annotated, Any

import typer
from typer.core import TyperCommand

from scheduler.cli_shared import CLOCK, EffortChoice, Folder, Json, Problems, answer, day_of, moment_of


def _log_words(incomplete: str) -> list[str]:
    """What may happen, for the shell's completion."""
    from models.log import LOG_WORDS

    return [word for word in LOG_WORDS if word.startswith(incomplete)]


def log(
    folder: Folder,
    what: Annotated[
        str,
        typer.Argument(help="down, up, done, spoiled, absent, back, rush, cancel or ready.", autocompletion=_log_words),
    ],
    at: Annotated[str, typer.Option(help="When, as 2026-12-01T10:15 or 10:15; left out: now.")] = "",
    press: Annotated[str, typer.Option(help="Which press.")] = "",
    person: Annotated[str, typer.Option(help="Who.")] = "",
    order: Annotated[str, typer.Option(help="Which order.")] = "",
    line: Annotated[str, typer.Option(help="Which line of it; left out: all.")] = "",
    pieces: Annotated[str, typer.Option(help='Names joined by ";", or numbers within the line: "1-12;15".')] = "",
    until: Annotated[str, typer.Option(help="Expected end, or when the blanks are there.")] = "",
    due: Annotated[str, typer.Option(help="The new due time of a rush.")] = "",
    priority: Annotated[float | None, typer.Option(help="The new priority of a rush.")] = None,
    note: Annotated[str, typer.Option(help="Free text.")] = "",
    as_json: Json = False,
) -> None:
    """Add a line to log.csv: what happened, and when."""
    from models.log import LOG_WORDS
    from scheduler.logbook.commands import add_line

    if what not in LOG_WORDS:
        raise typer.BadParameter(f"{what!r} is none of {', '.join(LOG_WORDS)}", param_hint="WHAT")
    if (due or priority is not None) and what != "rush":
        raise typer.BadParameter("--due and --priority go with rush")
    if due and until:
        raise typer.BadParameter("--due and --until are the same for a rush: give one of them")
    moment = moment_of(at, "--at", day_of(folder))
    notes = [f"priority {priority:.6f}".rstrip("0").rstrip(".")] if priority is not None else []
    cells = {
        "at": moment.isoformat(),
        "what": what,
        "press": press,
        "person": person,
        "order": order,
        "line": line,
        "pieces": pieces,
        "until": _until(until or due, moment),
        "note": "; ".join([*notes, *([note] if note else [])]),
    }
    with Problems(as_json):
        said = add_line(folder, cells)
    answer(as_json, {"written": True, "says": said}, said)


def _until(text: str, at: datetime) -> str:
    """As it was written; a time of day alone is one of that moment's date."""
    return moment_of(text, "--until", at.date).isoformat() if CLOCK.fullmatch(text.strip()) else text


def status(
    folder: Folder,
    at: Annotated[str, typer.Option(help="The moment, as 2026-12-01T10:15 or 10:15; left out: now.")] = "",
    as_json: Json = False,
) -> None:
    """Say where things stand at a moment: orders, presses and people, from the plan and the log."""
    from scheduler.logbook.commands import tell_status

    moment = moment_of(at, "--at", day_of(folder))
    with Problems(as_json, writes=False):
        told = tell_status(folder, moment, as_json)
    answer(as_json, told, str(told))


def learn(
    folder: Folder,
    accept: Annotated[bool, typer.Option("--accept", help="Write what is proposed into shop.toml.")] = False,
    as_json: Json = False,
) -> None:
    """Say what the log teaches about hand times, paces, spoilage and heat, as changes of shop.toml."""
    from scheduler.learning.commands import learn_folder, told_json, told_text

    with Problems(as_json, writes=accept):
        told = learn_folder(folder, accept)
    answer(as_json, told_json(told), told_text(told))


class InOrder(TyperCommand):
    """Keeps the words of the command line as they came: an --until goes with the --down or --absent before it."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        ctx.meta["words"] = list(args)
        return super().parse_args(ctx, args)


def replan(
    ctx: typer.Context,
    folder: Folder,
    at: Annotated[str, typer.Option(help="From when on, as 2026-12-01T10:42 or 10:42; left out: now.")] = "",
    down: Annotated[list[str] | None, typer.Option(help="A press that goes down then.")] = None,
    up: Annotated[list[str] | None, typer.Option(help="A press that works again.")] = None,
    absent: Annotated[list[str] | None, typer.Option(help="Somebody who leaves then.")] = None,
    back: Annotated[list[str] | None, typer.Option(help="Somebody who is back.")] = None,
    until: Annotated[
        list[str] | None, typer.Option(help="Until when the press is down or the person absent that stands before it.")
    ] = None,
    effort: Annotated[EffortChoice, typer.Option(help="How hard to think.")] = EffortChoice.normal,
    seconds: Annotated[
        float | None, typer.Option(min=0.1, help="Think this long instead; then two runs may differ.")
    ] = None,
    seed: Annotated[int, typer.Option(min=0, max=2_000_000_000, help="Another seed, another search.")] = 0,
    as_json: Json = False,
) -> None:
    """Plan the rest of the day again from a moment, by the log; --down and the like are logged first."""
    from scheduler.replanning.commands import replan_and_write

    moment = moment_of(at, "--at", day_of(folder))
    lines = _happened(ctx.meta["words"], moment)
    with Problems(as_json):
        replan_and_write(folder, moment, lines, effort.value, seconds, seed, as_json)


_EVENTS = {"--down": "press", "--up": "press", "--absent": "person", "--back": "person"}


def _happened(words: list[str], at: datetime) -> list[dict[str, str]]:
    """Lines of the log for what the command line tells, in its order."""
    lines: list[dict[str, str]] = []
    left = [part for word in words for part in (word.split("=", 1) if word.startswith("--") else [word])]
    for option, value in itertools.pairwise(left):
        if option in _EVENTS:
            lines.append({"at": at.isoformat(), "what": option[2:], _EVENTS[option]: value})
        elif option == "--until":
            if not lines or lines[-1]["what"] not in ("down", "absent") or "until" in lines[-1]:
                raise typer.BadParameter("it goes with the --down or --absent before it", param_hint="--until")
            lines[-1]["until"] = moment_of(value, "--until", at.date).isoformat()
    return lines


def restore(
    folder: Folder,
    number: Annotated[
        int | None, typer.Argument(help="Which, as plans-before/ numbers them; left out: the last.")
    ] = None,
    as_json: Json = False,
) -> None:
    """Bring back a plan from before; the present one is kept among them."""
    from scheduler.output.files import restore_plan

    with Problems(as_json):
        brought = restore_plan(folder, number)
    answer(
        as_json, {"restored": brought}, f"plan/ is plan {brought} from before again; the one that was there is kept."
    )
