"""The sheet a person carries: on which press they do what, stretch by stretch."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from html import escape
from itertools import pairwise

from models.plan import HAND_ROWS, Row
from scheduler import calendar
from scheduler.output.layout import counted, lasting
from scheduler.output.names import cut_words
from scheduler.output.runs import Run
from scheduler.output.sheets_facts import ABSENT, Work
from scheduler.output.sheets_lines import COLUMNS, date_line, pause_line, table, tick
from scheduler.output.sheets_words import clock, kept, peel_time, seconds, stretch

HEADS = ("Time", "Press", "What", "Hands", "Done")
_ELSEWHERE = timedelta(minutes=10)  # a longer time without a hand in a run ends the stretch
_BY_TURNS = timedelta(minutes=5)  # so soon back at a press, it was tended all the while
_FIRM = "\N{NO-BREAK SPACE}"
_VERBS = {"load": "dress the platen", "align": "lay", "unload": "take off", "peel": "peel"}


@dataclass(frozen=True, slots=True)
class Stint:
    """What one person does in one run without being away from it for long, off-press peels included."""

    run: Run
    rows: tuple[Row, ...]

    @property
    def start(self) -> datetime:
        """When the first hand is laid on."""
        return self.rows[0].start

    @property
    def end(self) -> datetime:
        """When the last hand row ends."""
        return max(row.end for row in self.rows)


def stints(work: Work, person: str) -> list[Stint]:
    """The person's stints by start. Every hand row of theirs lies in exactly one."""
    groups: list[list[Row]] = []
    latest: dict[Run, list[Row]] = {}
    own = [row for row in work.rows if row.person == person and row.loading is not None]
    for row in sorted(own, key=lambda r: (r.start, r.end)):
        run = work.run_of(row.loading or 0)
        group = latest.get(run)
        if group is None or row.start - group[-1].end > _ELSEWHERE:
            group = latest[run] = []
            groups.append(group)
        group.append(row)
    return [Stint(work.run_of(group[0].loading or 0), tuple(group)) for group in groups]


def person_body(work: Work, person: str, foot: str, end: str) -> str:
    """The table of one person, as HTML; `end` goes with its last lines."""
    found = stints(work, person)
    if not found and person not in work.day.absent:
        return f"<p>Nothing to do for this person.</p>{end}"
    caption = f"{person} · {work.day.shop.name or 'the shop'} · plan {work.mark}"
    return table(HEADS, _groups(work, person, found), caption, foot, end)


def _groups(work: Work, person: str, found: Sequence[Stint]) -> Iterator[list[str]]:
    pauses = _pauses(work, person, found)
    today: date | None = None
    done: list[Stint] = []
    told: set[str] = set()
    for stint in found:
        lead = []
        while pauses and pauses[0][0] < stint.start:
            start, end, words = pauses.pop(0)
            lead.append(pause_line(start, end, words))
        if stint.start.date() != today:
            today, done, told = stint.start.date(), [], set()
            lead.append(date_line(stint.start))
        told &= {old.run.press for old in done if stint.start - old.end <= _BY_TURNS} | _last_press(done)
        if stint.run.press not in told:
            going = {old.run.press for old in done if old.end > stint.start}
            lead.append(_move(stint, going, bool(done)))
            told = going | {stint.run.press}
        yield [*lead, _line(work, stint)]
        done.append(stint)
    if pauses:
        yield [pause_line(*pause) for pause in pauses]


def _last_press(done: Sequence[Stint]) -> set[str]:
    """The press where they last had a hand on."""
    return {max(done, key=lambda old: old.end).run.press} if done else set()


def _pauses(work: Work, person: str, found: Sequence[Stint]) -> list[tuple[datetime, datetime, str]]:
    """When they are absent, and the times between their windows of one date where they work before and after."""
    day, who = work.day, work.day.people.get(person)
    if who is None:
        return []
    spans = calendar.person_windows(day, person)
    absent = [(start, end or datetime.max, ABSENT) for start, end in day.absent.get(person, ())]
    gaps = [(day.at(a[1]), day.at(b[0])) for a, b in pairwise(spans)]
    pauses = [
        (start, end, "away" if any(a < end and start < b for a, b in who.away) else "break")
        for start, end in gaps
        if start.date() == end.date()
        and not any(a < end and start < b for a, b, _ in absent)
        and any(s.end.date() == start.date() and s.start < end for s in found)
        and any(s.start.date() == start.date() and s.end > start for s in found)
    ]
    return sorted([*pauses, *absent])


def _move(stint: Stint, going: set[str], moved: bool) -> str:
    """A line where the press changes: all work left behind, or another press besides."""
    press = escape(stint.run.press)
    if going:
        others = " and ".join(escape(name) for name in sorted(going))
        words = f"besides <b>{others}</b> also to <b>{press}</b>, by turns"
    else:
        words = f"{'go to' if moved else 'begin at'} <b>{press}</b>"
    return f'<tr class="move"><td colspan="{COLUMNS}"><b>{clock(stint.start)}</b> {words}</td></tr>'


def _line(work: Work, stint: Stint) -> str:
    run, line = stint.run, work.line(stint.run)
    numbers = " ".join(str(n) for n in dict.fromkeys(row.loading for row in stint.rows))
    blank = ", ".join(part for part in (line.garment, line.size) if part) if line else ""
    customer = f", {escape(line.customer)}" if line and line.customer else ""
    hands = sum(row.seconds for row in stint.rows)
    dwells = list(dict.fromkeys(f"{step.dwell[0]}{_FIRM}s" for step in work.steps(run) if step.dwell))
    degrees = f"{run.temperature}{_FIRM}°{work.day.shop.units.temperature}"
    setting = ", ".join(part for part in (degrees, ", then ".join(dwells), escape(run.pressure)) if part)
    return (
        f'<tr class="run stint" data-start="{stint.start.isoformat()}" data-loadings="{numbers}">'
        f'<th scope="row" class="time"><b>{clock(stint.start)}</b><span>to</span>'
        f"<b>{clock(stint.end, up=True)}</b></th>"
        f'<td class="setting"><b class="big word">{escape(run.press)}</b><span>{setting}</span></td>'
        f'<td class="what"><p class="whose">order <b>{escape(run.order)}</b>{customer}, '
        f"line{_FIRM}{escape(run.line)}</p>"
        f'<p class="many">{escape(blank)}, on the <b>{escape(run.placement)}</b></p>{_tasks(work, stint)}</td>'
        f'<td class="hands">{lasting(hands)}</td>'
        f'<td class="done">{tick(stint.rows[0].loading or 0, "done")}</td></tr>'
    )


def _tasks(work: Work, stint: Stint) -> str:
    tasks = [_task(work, stint, what) for what in HAND_ROWS]
    films = ", ".join(
        f"layer {n} {escape(film)}" for step in work.steps(stint.run) for n, film in step.films if step.films
    )
    cover = "; cover sheet <b>yes</b>" if any(step.cover_sheet for step in work.steps(stint.run)) else ""
    said = [f'<p class="films">{films or "press again, nothing laid"}{cover}</p>']
    said.append(f'<p class="how">{"; ".join(task for task in tasks if task)}</p>')
    said.append(_names(work, stint))
    for step in work.steps(stint.run):
        if step.peel is not None and any(row.what == "peel" and row.operation == step.number for row in stint.rows):
            kind, window = step.peel
            said.append(f'<p class="how">peel <b>{kind}</b>, {kept(peel_time(window))}</p>')
    if any(row.what == "peel" and row.press is None for row in stint.rows):
        off = [row for row in stint.rows if row.what == "peel" and row.press is None]
        said.append(f'<p class="next">off the press: {_peels(off)}</p>')
    return "".join(said)


def _task(work: Work, stint: Stint, what: str) -> str:
    """How many pieces' worth of one kind of hand row: "lay 12 ×", after its prepress; nothing where there is none."""
    count = sum(len(row.pieces) for row in stint.rows if row.what == what)
    if not count:
        return ""
    before = next((f"prepress {seconds(step.prepress)}; " for step in work.steps(stint.run) if step.prepress), "")
    return f"{before if what == 'align' else ''}{_VERBS[what].replace(' ', _FIRM)}{_FIRM}<b>{count}{_FIRM}×</b>"


def _peels(rows: Sequence[Row]) -> str:
    pieces = counted(sum(len(row.pieces) for row in rows), "piece")
    return f'{pieces}, <span class="firm">{stretch(rows[0].start, max(row.end for row in rows))}</span>'


def _names(work: Work, stint: Stint) -> str:
    """The names whose own cut this person lays, in the order they lay them."""
    if not work.personal(stint.run):
        return ""
    pieces = dict.fromkeys(piece for row in stint.rows if row.what == "align" for piece in row.pieces)
    cuts = [cut_words(work.names[piece]) for piece in pieces if piece in work.names]
    return f'<p class="cuts">names: {escape(", ".join(cuts))}</p>' if cuts else ""
