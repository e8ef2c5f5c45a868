"""The command line: parses, calls, prints. Everything heavy is imported inside the commands.

Here stand the commands that plan; those of the running day are in `cli_day`.
"""

from __future__ import annotations

import os
import sys
from enum import StrEnum
from pathlib import Path
from typing import Annotated

import typer

from scheduler import cli_day
from scheduler.cli_shared import (
    AUDIT_FAILED,
    BAD_INPUT,
    STOPPED,
    EffortChoice,
    Folder,
    Json,
    PlainWords,
    Problems,
    answer,
    day_of,
    moment_of,
    note,
    plain,
    print_json,
)

app = typer.Typer(
    name="pressday",
    help="Plan the day of a shop that presses heat-applied vinyl.",
    cls=PlainWords,
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
)


KEPT = "No finding: the plan keeps every rule."


class PaperChoice(StrEnum):
    """What sheets are printed on."""

    a4 = "a4"
    letter = "letter"


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

    with Problems(as_json):
        written = write_starter(folder, spreadsheet=not as_csv)
    answer(
        as_json,
        {"folder": str(folder), "files": [path.name for path in written]},
        "\n".join(str(path) for path in written),
    )
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

    with Problems(as_json), held(folder):
        written, kept = write_spreadsheet(folder)
    answer(
        as_json,
        {"written": written.name, "kept": kept.name},
        f"{written} written; the orders as they were are kept in {kept.name}",
    )


def _plan_spreadsheet(folder: Path, as_json: bool) -> None:
    from scheduler.holding import held
    from scheduler.output.workbook import write_plan_workbook

    with Problems(as_json), held(folder):
        written = write_plan_workbook(folder)
    answer(as_json, {"written": written.name}, f"{written} written")


@app.command()
def check(folder: Folder, as_json: Json = False) -> None:
    """Read a folder back in words, or say everything that is wrong with it."""
    from scheduler.checking import check_folder

    with Problems(as_json, writes=False):
        found = check_folder(folder)
    answer(as_json, {"sound": True, "says": found}, "\n".join(found))


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

    with Problems(as_json):
        planned = plan_and_write(folder, effort.value, seconds, seed, as_json, what_if)
        notes = [log_note(folder, planned.plan.start), sheets_note(folder)]
        if with_sheets:
            made = write_folder_sheets(folder, paper_there(folder))
            notes[1] = f"{len(made.files)} sheets written; begin with {made.folder / 'index.html'}"
    for said in filter(None, notes):
        note(said)


@app.command()
def audit(folder: Folder, as_json: Json = False) -> None:
    """Check the written plan against every rule, apart from all that made it."""
    from scheduler.audit import audit_folder
    from scheduler.output.files import recover
    from scheduler.output.layout import counted

    with Problems(as_json, writes=False):
        recover(folder)
        findings = audit_folder(folder)
    unread = [found.message for found in findings if found.rule == "input"]  # they name their file themselves
    if as_json:
        print_json({"sound": not findings, "findings": [plain(found) for found in findings]})
    else:
        broken = [f"{found.rule}: {found.where}: {found.message}" for found in findings if found.rule != "input"]
        answer(False, None, "\n".join([*unread, *broken]) or KEPT)
        if findings:
            note(counted(len(findings), "problem" if unread else "finding"))
    if findings:
        raise typer.Exit(BAD_INPUT if unread else AUDIT_FAILED)


@app.command()
def sheets(
    folder: Folder,
    paper: Annotated[PaperChoice, typer.Option(help="What they are printed on.")] = PaperChoice.a4,
    as_json: Json = False,
) -> None:
    """Write sheets for presses, people and orders from the written plan, for paper and tablet."""
    from scheduler.sheeting import write_folder_sheets

    with Problems(as_json):
        made = write_folder_sheets(folder, paper.value)
    for warning in made.warnings:
        note(f"Warning: {warning}")
    answer(
        as_json,
        {"folder": str(made.folder), "files": list(made.files), "warnings": list(made.warnings)},
        f"{len(made.files)} sheets written; begin with {made.folder / 'index.html'}",
    )


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
    at: Annotated[str, typer.Option(help="From when on can be planned, as 2026-12-01T10:15 or 10:15.")] = "",
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
    moment = moment_of(at, "--at", day_of(folder)) if at else None
    with Problems(as_json, writes=accept):
        if accept:
            commands.accept_and_say(folder, asking, effort.value, as_json, moment)
        else:
            commands.estimate_and_say(folder, asking, as_json, moment)


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
    with Problems(as_json, writes=False):
        asked = [(change, text) for change, texts in options for text in texts or ()]
        compare_and_say(folder, asked, also or (), late, effort.value, page, as_json)


for command in (cli_day.log, cli_day.status, cli_day.learn):
    app.command()(command)
app.command(cls=cli_day.InOrder)(cli_day.replan)
app.command()(cli_day.restore)


def main() -> None:
    """Entry point of the `pressday` command."""
    if hasattr(sys.stdout, "reconfigure"):
        sys.stdout.reconfigure(errors="replace")
    try:
        app()
    except SystemExit as end:
        if end.code == STOPPED:  # everything is cleared away; only solvers in threads would still be waited for
            sys.stdout.flush()
            sys.stderr.flush()
            os._exit(STOPPED)
        raise


if __name__ == "__main__":
    main()
