"""The lines of a sheet as HTML table rows. Everything a person typed is escaped here."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime
from html import escape
from itertools import islice

from models.plan import Row
from scheduler.output.drawing import placement_drawing
from scheduler.output.layout import counted, date_words, lasting
from scheduler.output.runs import Run
from scheduler.output.sheets_facts import ABSENT, DOWN, Next, Step, Work
from scheduler.output.sheets_words import clock, kept, layer_words, moment, peel_time, piece_ranges, seconds, stretch

COLUMNS = 5
MOST_BOXES = 12  # loadings that get a box each; more are counted
_NAMES_A_ROW = 24  # so that no row is taller than a page


def date_line(at: datetime) -> str:
    """The date a day's lines stand under."""
    return _wide("date", escape(date_words(at)))


def pause_line(start: datetime, end: datetime, words: str) -> str:
    """A break of the shop, or a time away or down; `end` may lie on another date, or be the last moment there is."""
    if end == datetime.max:
        said = f"<b>from {clock(start)}</b> {escape(words)}, nobody knows until when"
    elif start.date() == end.date():
        said = f"<b>{stretch(start, end)}</b> {escape(words)}"
    else:
        said = f"<b>from {clock(start)}</b> {escape(words)} until {moment(end, True, up=True)}"
    return _wide("pause out" if words in (DOWN, ABSENT) else "pause", said)


def change_line(work: Work, row: Row, before: Row | None) -> str:
    """A change of setting across the whole sheet; without a row before it on that date it is the warm-up."""
    degrees = f"{row.temperature} °{work.day.shop.units.temperature}"
    verb = "warm up to" if before is None else "set to"
    ready = f"ready {clock(row.end)} ({lasting(row.seconds)})" if row.seconds else "it is there already"
    was = ""
    if before is not None:
        old = f"{before.temperature} °{work.day.shop.units.temperature}"
        was = f'<span class="was">from {old} {escape(before.pressure or "")}</span>'
    words = f"<b>{clock(row.start)}</b> {verb} <b>{degrees} {escape(row.pressure or '')}</b>, {ready}"
    return _wide("change", f"<span>{words}</span>{was}", f' data-start="{row.start.isoformat()}"')


def run_lines(work: Work, run: Run, headline: str, own: bool = True) -> tuple[str, list[str]]:
    """The line of a run, and the lines of its names where its pieces are personalised. `headline` is HTML.

    `own`: on the press's own sheet, where every loading is ticked; else the run has one box.
    """
    steps = work.steps(run)
    numbers = " ".join(map(str, run.numbers))
    personal = work.personal(run) and own
    done = _by_name() if personal else _boxes(run) if own else tick(run.numbers[0], "pressed")
    line = (
        f'<tr class="run" data-start="{run.start.isoformat()}" data-end="{run.end.isoformat()}" '
        f'data-loadings="{numbers}" data-press="{escape(run.press)}">'
        f'<th scope="row" class="time"><b>{clock(run.start)}</b><span>to</span><b>{clock(run.end, up=True)}</b></th>'
        f'<td class="setting">{_setting(work, run, steps)}</td>'
        f'<td class="what">{headline}{_what(work, run, steps)}</td>'
        f'<td class="drawn">{_drawing(work, run)}</td><td class="done">{done}</td></tr>'
    )
    return line, list(_names(work, run)) if personal else []


def _wide(style: str, inner: str, more: str = "") -> str:
    return f'<tr class="{style}"{more}><td colspan="{COLUMNS}">{inner}</td></tr>'


def _setting(work: Work, run: Run, steps: Sequence[Step]) -> str:
    """The dwell to set the timer to is the shortest planned; where hands come later, by when the press is opened."""
    spans = [step.dwell for step in steps if step.dwell is not None]
    dwells = list(dict.fromkeys(f"{shortest} s" for shortest, _ in spans)) or ["not pressed"]
    late = list(dict.fromkeys(f"opened by {longest} s" for shortest, longest in spans if longest > shortest))
    dwell = ", then ".join(text.replace(" ", "\N{NO-BREAK SPACE}") for text in dwells)
    return (
        f'<b class="big">{run.temperature}\N{NO-BREAK SPACE}°{work.day.shop.units.temperature}</b>'
        f'<b class="big">{dwell}</b><span class="late">{", then ".join(late)}</span>'
        f'<b class="big word">{escape(run.pressure)}</b>'
    )


def _what(work: Work, run: Run, steps: Sequence[Step]) -> str:
    line = work.line(run)
    blank = ", ".join(part for part in (line.garment, line.size) if part) if line else ""
    sizes = [len(work.pieces(number)) for number in run.numbers]
    grouped = "" if max(sizes) == 1 else f", {counted(run.loadings, 'loading')} of {_at_once(sizes)}"
    pieces = piece_ranges(piece for number in run.numbers for piece in work.pieces(number))
    prepress = next((f"prepress {seconds(step.prepress)}, then lay" for step in steps if step.prepress), "")
    parts = [
        f'<p class="many"><b>{run.pieces} ×</b> {escape(blank)}</p>',
        f'<p class="place">on the <b>{escape(run.placement)}</b>{grouped}</p>',
        f'<p class="prepress">{prepress}</p>' if prepress else "",
        "".join(_step(step, len(steps) > 1) for step in steps),
        f'<p class="next">then: {"; ".join(_next(go, run) for go in work.next(run))}</p>',
        f'<p class="pieces">{escape(pieces)}</p>',
    ]
    return "".join(parts)


def _at_once(sizes: Sequence[int]) -> str:
    """How many pieces lie on the platen at once, loading by loading where that can be said in a few figures."""
    if len(set(sizes)) == 1:
        return str(sizes[0])
    return ", ".join(map(str, sizes)) if len(sizes) <= 6 else f"up to {max(sizes)}"


def _step(step: Step, several: bool) -> str:
    films = ", ".join(f"layer {number} <b>{escape(film)}</b>" for number, film in step.films)
    laid = films or "press again, nothing laid"
    lead = f"operation {step.number}, {seconds(step.dwell)}: " if several and step.dwell else ""
    cover = "cover sheet <b>yes</b>" if step.cover_sheet else "no cover sheet"
    return f'<p class="films">{lead}{laid}</p><p class="how">{cover}; {_peel(step)}</p>'


def _peel(step: Step) -> str:
    if step.peel is None:
        return "no peel" if not step.films else "peel by the film's data sheet"
    kind, window = step.peel
    place = "on the press" if step.on_press else "off the press"
    return f"peel <b>{kind}</b>, {kept(peel_time(window))}, {place}"


def _next(go: Next, run: Run) -> str:
    some = "" if go.pieces == run.pieces else f"{go.pieces} of them: "
    if go.press is None or go.start is None:
        return f"{some}<b>done</b>"
    another_day = go.start.date() != run.end.date()
    laid = layer_words(go.layers) if go.layers else "press again"
    place = f"{escape(go.placement)}, {laid}"
    return f"{some}<b>{place}</b> on {escape(go.press)} from {moment(go.start, another_day)}"


def _drawing(work: Work, run: Run) -> str:
    place = work.placement(run)
    return "" if place is None else placement_drawing(place, run.layers, work.before(run), work.day.shop.units.length)


def tick(number: int, label: str) -> str:
    """A box that can be ticked with a pen or a finger; its key names it within this plan."""
    return f'<label><input type="checkbox" data-box="{number}-{escape(label)}"> {escape(label)}</label>'


def _boxes(run: Run) -> str:
    if run.loadings > MOST_BOXES:
        return f'<p class="count">done<br><span class="blank"></span> of {run.loadings}</p>'
    boxes = "".join(tick(number, str(count)) for count, number in enumerate(run.numbers, 1))
    return f'<div class="boxes">{boxes}</div>'


def _by_name() -> str:
    return '<p class="count">by name,<br>below</p>'


def _names(work: Work, run: Run) -> Iterator[str]:
    """The names and numbers in the order of the loadings, a box for each piece."""
    cells = (_name(work, number, piece) for number in run.numbers for piece in work.pieces(number))
    for some in iter(lambda: list(islice(cells, _NAMES_A_ROW)), []):
        yield _wide("names", f"<ol>{''.join(some)}</ol>")


def _name(work: Work, number: int, piece: str) -> str:
    row = work.names.get(piece)
    cut = f"<b>{escape(row.name)}</b> <b>{escape(row.number)}</b>" if row else "<b>no name given</b>"
    box = f'<input type="checkbox" data-box="{number}-{escape(piece)}">'
    return f"<li><label>{box} {cut} <i>{escape(piece)}</i></label></li>"


def table(heads: Sequence[str], groups: Iterable[Sequence[str]], caption: str, foot: str, end: str = "") -> str:
    """A table whose head and foot stand on every printed page; lines of one group are not torn apart.

    `end` is HTML that goes with the last group, so that it never has a page of its own.
    """
    kept = [list(group) for group in groups] or [[]]
    kept[-1] += [_wide("end", end)] if end else []
    head = "".join(f'<th scope="col">{escape(text)}</th>' for text in heads)
    body = "\n".join(f"<tbody>{''.join(group)}</tbody>" for group in kept)
    return (
        f'<table class="sheet"><thead><tr class="running"><td colspan="{COLUMNS}">{escape(caption)}</td></tr>'
        f"<tr>{head}</tr></thead>\n"
        f'{body}\n<tfoot><tr><td colspan="{COLUMNS}">{escape(foot)}</td></tr></tfoot></table>'
    )
