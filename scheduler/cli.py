"""The command line: parses, calls, prints. Everything heavy is imported inside the commands."""

from __future__ import annotations

import itertools
import sys
from datetime import datetime
from enum import StrEnum
from pathlib import Path
from typing import Annotated, Any, NoReturn

import typer
from typer.core import TyperCommand

app = typer.Typer(
    name="pressday",
    help="Plan the day of a shop that presses heat-applied vinyl.",
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)

Folder = Annotated[Path, typer.Argument(help="The day folder: shop.toml, catalog.toml, designs.toml, orders.csv.")]
Json = Annotated[bool, typer.Option("--json", help="A machine-readable answer on standard output.")]

BAD_INPUT, NO_PLAN, AUDIT_FAILED = 1, 3, 4
_MOST_SHOWN = 200


class EffortChoice(StrEnum):
    """How hard to think."""

    quick = "quick"
    normal = "normal"
    thorough = "thorough"


class PaperChoice(StrEnum):
    """What sheets are printed on."""

    a4 = "a4"
    letter = "letter"


def _log_words(incomplete: str) -> list[str]:
    """What may happen, for the shell's completion."""
    from models.log import LOG_WORDS

    return [word for word in LOG_WORDS if word.startswith(incomplete)]


@app.callback(invoke_without_command=True)
def _root(
    version: Annotated[bool, typer.Option("--version", help="Say which version this is.", is_eager=True)] = False,
) -> None:
    if version:
        from scheduler import __version__

        typer.echo(f"pressday {__version__}")
        raise typer.Exit


@app.command()
def new(
    folder: Folder,
    as_csv: Annotated[bool, typer.Option("--csv", help="The orders as orders.csv, not as a workbook.")] = False,
    as_json: Json = False,
) -> None:
    """Write a day folder to start from, with a comment on every field and a workbook for the orders."""
    from scheduler.intake import write_starter

    with _Problems(as_json):
        written = write_starter(folder, spreadsheet=not as_csv)
    if as_json:
        _print_json({"folder": str(folder), "files": [path.name for path in written]})
    else:
        typer.echo("\n".join(str(path) for path in written))
    typer.echo(f"Now change them to your shop's, then: pressday plan {folder}", err=True)


@app.command()
def spreadsheet(
    folder: Folder,
    of_plan: Annotated[bool, typer.Option("--plan", help="The written plan's tables instead, as plan.xlsx.")] = False,
    as_json: Json = False,
) -> None:
    """Write the orders as a workbook, orders.xlsx, with drop-downs of the garments and designs there are now."""
    if of_plan:
        return _plan_spreadsheet(folder, as_json)
    from scheduler.holding import held
    from scheduler.intake import write_spreadsheet

    with _Problems(as_json), held(folder):
        written, kept = write_spreadsheet(folder)
    if as_json:
        _print_json({"written": written.name, "kept": kept.name})
    else:
        typer.echo(f"{written} written; the orders as they were are kept in {kept.name}")


def _plan_spreadsheet(folder: Path, as_json: bool) -> None:
    from scheduler.holding import held
    from scheduler.output.workbook import write_plan_workbook

    with _Problems(as_json), held(folder):
        written = write_plan_workbook(folder)
    if as_json:
        _print_json({"written": written.name})
    else:
        typer.echo(f"{written} written")


@app.command()
def check(folder: Folder, as_json: Json = False) -> None:
    """Read a folder back in words, or say everything that is wrong with it."""
    from scheduler.checking import check_folder

    with _Problems(as_json):
        found = check_folder(folder)
    if as_json:
        _print_json({"sound": True, "says": found})
    else:
        typer.echo("\n".join(found))


@app.command()
def plan(
    folder: Folder,
    effort: Annotated[EffortChoice, typer.Option(help="How hard to think.")] = EffortChoice.normal,
    seconds: Annotated[
        float | None, typer.Option(min=0.1, help="Think this long instead; then two runs may differ.")
    ] = None,
    seed: Annotated[int, typer.Option(min=0, max=2_000_000_000, help="Another seed, another search.")] = 0,
    with_sheets: Annotated[bool, typer.Option("--sheets", help="Write sheets/ too, on the paper they had.")] = False,
    what_if: Annotated[bool, typer.Option("--what-if", help="Also plan what would help orders that are late.")] = False,
    as_json: Json = False,
) -> None:
    """Plan the day, audit the plan, and write it to plan/."""
    from scheduler.sheeting import paper_there, sheets_note, write_folder_sheets
    from scheduler.writing import log_note, plan_and_write

    with _Problems(as_json):
        planned = plan_and_write(folder, effort.value, seconds, seed, as_json, what_if)
        notes = [log_note(folder, planned.plan.start), sheets_note(folder)]
        if with_sheets:
            made = write_folder_sheets(folder, paper_there(folder))
            notes[1] = f"{len(made.files)} sheets written; begin with {made.folder / 'index.html'}"
    for note in filter(None, notes):
        typer.echo(note, err=True)


@app.command()
def audit(folder: Folder, as_json: Json = False) -> None:
    """Check the written plan against every rule, apart from all that made it."""
    from scheduler.audit import audit_folder
    from scheduler.output.files import recover

    with _Problems(as_json):
        recover(folder)
        findings = audit_folder(folder)
    if as_json:
        _print_json({"sound": not findings, "findings": [_plain(f) for f in findings]})
    else:
        for finding in findings:
            typer.echo(f"{finding.rule}: {finding.where}: {finding.message}")
        typer.echo(
            f"{len(findings)} findings" if findings else "No finding: the plan keeps every rule.", err=bool(findings)
        )
    if findings:
        raise typer.Exit(AUDIT_FAILED)


@app.command()
def sheets(
    folder: Folder,
    paper: Annotated[PaperChoice, typer.Option(help="What they are printed on.")] = PaperChoice.a4,
    as_json: Json = False,
) -> None:
    """Write sheets for presses, people and orders from the written plan, for paper and tablet."""
    from scheduler.sheeting import write_folder_sheets

    with _Problems(as_json):
        made = write_folder_sheets(folder, paper.value)
    for warning in made.warnings:
        typer.echo(f"Warning: {warning}", err=True)
    if as_json:
        _print_json({"folder": str(made.folder), "files": list(made.files), "warnings": list(made.warnings)})
    else:
        typer.echo(f"{len(made.files)} sheets written; begin with {made.folder / 'index.html'}")


@app.command()
def estimate(
    folder: Folder,
    garment: Annotated[str, typer.Option(help="Which garment, from catalog.toml.")] = "",
    design: Annotated[str, typer.Option(help="Which design, from designs.toml.")] = "",
    quantity: Annotated[str, typer.Option(help="How many pieces.")] = "",
    ready: Annotated[str, typer.Option(help="When the blanks are there; left out: at once.")] = "",
    due: Annotated[str, typer.Option(help="When it is wanted.")] = "",
    priority: Annotated[str, typer.Option(help="2 counts a late minute twice.")] = "",
    size: Annotated[str, typer.Option(help="Free text.")] = "",
    order: Annotated[str, typer.Option(help="Its name; --accept needs one.")] = "",
    customer: Annotated[str, typer.Option(help="For whom.")] = "",
    lines: Annotated[Path | None, typer.Option(help="A file with orders.csv's columns instead.")] = None,
    accept: Annotated[bool, typer.Option("--accept", help="Add it to orders.csv, plan and write.")] = False,
    effort: Annotated[EffortChoice, typer.Option(help="How hard --accept plans.")] = EffortChoice.normal,
    as_json: Json = False,
) -> None:
    """Say when one more order could be done without breaking a promise, and what it would take."""
    from scheduler.estimating import commands

    cells = {"order": order, "customer": customer, "garment": garment, "size": size, "quantity": quantity}
    cells |= {"design": design, "ready": ready, "due": due, "priority": priority}
    if lines is None and not (garment and design and quantity):
        raise typer.BadParameter("give --garment, --design and --quantity, or --lines FILE")
    if lines is not None and any(cells.values()):
        raise typer.BadParameter("--lines holds all of the order: leave the other options out")
    if accept and lines is None and not order:
        raise typer.BadParameter("--accept needs the order's name: --order NAME")
    asking = commands.of_file(folder, lines) if lines else commands.typed(folder, cells | {"order": order or "new"})
    with _Problems(as_json):
        if accept:
            commands.accept_and_say(folder, asking, effort.value, as_json)
        else:
            commands.estimate_and_say(folder, asking, as_json)


@app.command()
def compare(
    folder: Folder,
    add_press: Annotated[list[str] | None, typer.Option(help="One more press: NAME, or NAME=OTHER like OTHER.")] = None,
    add_person: Annotated[list[str] | None, typer.Option(help="One more person: NAME, or NAME=OTHER.")] = None,
    without: Annotated[list[str] | None, typer.Option(help="Without this press.")] = None,
    without_person: Annotated[list[str] | None, typer.Option(help="Without this person.")] = None,
    overtime: Annotated[list[str] | None, typer.Option(help="Open so many minutes longer.")] = None,
    film_window: Annotated[list[str] | None, typer.Option(help="Another window for a film: FILM=LOW:HIGH.")] = None,
    pace: Annotated[list[str] | None, typer.Option(help="Another pace: PERSON=FACTOR; 1.2 is slower.")] = None,
    priority: Annotated[list[str] | None, typer.Option(help="Another priority: ORDER=PRIORITY.")] = None,
    also: Annotated[list[Path] | None, typer.Option(help="A second day folder, as it is.")] = None,
    late: Annotated[bool, typer.Option("--late", help="What would help the orders that are late.")] = False,
    effort: Annotated[EffortChoice, typer.Option(help="How hard to think, for each.")] = EffortChoice.normal,
    page: Annotated[Path | None, typer.Option(help="Where the page goes; left out: DIR/compare.html.")] = None,
    as_json: Json = False,
) -> None:
    """Plan the day as it is, by habit and in variants, one for each option, and set them side by side."""
    from scheduler.comparing import changes as make
    from scheduler.comparing.commands import compare_and_say

    options = (
        (make.add_press, add_press),
        (make.add_person, add_person),
        (make.without_press, without),
        (make.without_person, without_person),
        (make.overtime, overtime),
        (make.film_window, film_window),
        (make.pace, pace),
        (make.priority, priority),
    )
    with _Problems(as_json):
        asked = [(change, text) for change, texts in options for text in texts or ()]
        compare_and_say(folder, asked, also or (), late, effort.value, page, as_json)


@app.command()
def log(
    folder: Folder,
    what: Annotated[
        str,
        typer.Argument(help="down, up, done, spoiled, absent, back, rush, cancel or ready.", autocompletion=_log_words),
    ],
    at: Annotated[str, typer.Option(help="When, as 2026-12-01T10:15; left out: now.")] = "",
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
    notes = [f"priority {priority:.6f}".rstrip("0").rstrip(".")] if priority is not None else []
    cells = {
        "at": _moment(at, "--at").isoformat(),
        "what": what,
        "press": press,
        "person": person,
        "order": order,
        "line": line,
        "pieces": pieces,
        "until": until or due,
        "note": "; ".join([*notes, *([note] if note else [])]),
    }
    with _Problems(as_json):
        said = add_line(folder, cells)
    if as_json:
        _print_json({"written": True, "says": said})
    else:
        typer.echo(said)


@app.command()
def status(
    folder: Folder,
    at: Annotated[str, typer.Option(help="The moment, as 2026-12-01T10:15; left out: now.")] = "",
    as_json: Json = False,
) -> None:
    """Say where things stand at a moment: orders, presses and people, from the plan and the log."""
    from scheduler.logbook.commands import tell_status

    moment = _moment(at, "--at")
    with _Problems(as_json):
        told = tell_status(folder, moment, as_json)
    if as_json:
        _print_json(told)
    else:
        typer.echo(told, nl=False)


@app.command()
def learn(
    folder: Folder,
    accept: Annotated[bool, typer.Option("--accept", help="Write what is proposed into shop.toml.")] = False,
    as_json: Json = False,
) -> None:
    """Say what the log teaches about hand times, paces, spoilage and heat, as changes of shop.toml."""
    from scheduler.learning.commands import learn_folder, told_json, told_text

    with _Problems(as_json):
        told = learn_folder(folder, accept)
    if as_json:
        _print_json(told_json(told))
    else:
        typer.echo(told_text(told), nl=False)


class _InOrder(TyperCommand):
    """Keeps the words of the command line as they came: an --until goes with the --down or --absent before it."""

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        ctx.meta["words"] = list(args)
        return super().parse_args(ctx, args)


@app.command(cls=_InOrder)
def replan(
    ctx: typer.Context,
    folder: Folder,
    at: Annotated[str, typer.Option(help="From when on, as 2026-12-01T10:42; left out: now.")] = "",
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

    moment = _moment(at, "--at")
    lines = _happened(ctx.meta["words"], moment)
    with _Problems(as_json):
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
            lines[-1]["until"] = _moment(value, "--until").isoformat()
    return lines


@app.command()
def restore(
    folder: Folder,
    number: Annotated[
        int | None, typer.Argument(help="Which, as plans-before/ numbers them; left out: the last.")
    ] = None,
    as_json: Json = False,
) -> None:
    """Bring back a plan from before; the present one is kept among them."""
    from scheduler.output.files import restore_plan

    with _Problems(as_json):
        brought = restore_plan(folder, number)
    if as_json:
        _print_json({"restored": brought})
    else:
        typer.echo(f"plan/ is plan {brought} from before again; the one that was there is kept.")


def _moment(text: str, option: str) -> datetime:
    from models.shop import moment

    try:
        return moment(text) if text else datetime.now().replace(microsecond=0)
    except ValueError as error:
        raise typer.BadParameter(f"{text!r}: {error}", param_hint=option) from None


class _Problems:
    """Turns what can go wrong into messages and exit codes (contract, section 8)."""

    def __init__(self, as_json: bool = False) -> None:
        self.as_json = as_json

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
            self._say({"stopped": True}, ["Stopped; nothing was written."], 130)

    def _bad_input(self, error: object) -> NoReturn:
        from models.problem import BadInput

        assert isinstance(error, BadInput)
        count = len(error.problems)
        lines = [str(problem) for problem in error.problems[:_MOST_SHOWN]]
        if count > _MOST_SHOWN:
            lines.append(f"... and {count - _MOST_SHOWN} more (--json lists them all)")
        head = f"{count} problem{'s' if count != 1 else ''}; nothing was written."
        self._say({"sound": False, "problems": [_plain(p) for p in error.problems]}, [head, *lines], BAD_INPUT)

    def _say(self, answer: dict[str, object], lines: list[str], code: int) -> NoReturn:
        if self.as_json:
            _print_json(answer)
        typer.echo("\n".join(lines), err=True)
        raise typer.Exit(code)


def _plain(item: object) -> dict[str, object]:
    from dataclasses import asdict, is_dataclass

    assert is_dataclass(item) and not isinstance(item, type)
    return asdict(item)


def _print_json(answer: object) -> None:
    import json

    typer.echo(json.dumps(answer, ensure_ascii=False, indent=1))


def main() -> None:
    """Entry point of the `pressday` command."""
    if hasattr(sys.stdout, "reconfigure"):
        sys.stdout.reconfigure(errors="replace")
    app()


if __name__ == "__main__":
    main()
