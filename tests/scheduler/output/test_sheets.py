"""What stands on the sheets of presses, people and orders."""

from __future__ import annotations

import csv
import math
import re
from dataclasses import replace
from datetime import timedelta
from html import escape, unescape

import pytest

from models.plan import HAND_ROWS
from scheduler.output.cautions import CAUTIONS, SHORT_CAUTION
from scheduler.output.sheets import sheets
from scheduler.output.sheets_person import stints
from tests.scheduler.output.planned import NAMES, ROOT
from tests.scheduler.output.sheeted import lines, pages, work


def press_pages(name: str) -> dict[str, str]:
    """Press -> its sheet."""
    return {press: pages(name)[f"press-{press}.html"] for press in work(name).day.presses}


@pytest.mark.parametrize("name", NAMES)
def test_there_is_a_sheet_for_each_and_an_index_of_all(name: str) -> None:
    """Every press, person and order has a sheet, and the index links every one of them and no other."""
    day, made = work(name).day, pages(name)
    assert len(made) == len(day.presses) + len(day.people) + len(day.orders) + 1
    assert sorted(re.findall(r'<a href="([^"]+)">', made["index.html"])) == sorted(set(made) - {"index.html"})


@pytest.mark.parametrize("name", NAMES)
def test_every_loading_stands_in_one_line_of_its_press(name: str) -> None:
    """Each loading of the timetable is in exactly one line of its press's sheet, and the lines are in time order."""
    loads = [row for row in work(name).rows if row.what == "load"]
    ends = {row.loading: row.end for row in work(name).rows if row.what == "unload"}
    for press, page in press_pages(name).items():
        own = sorted((row for row in loads if row.press == press), key=lambda row: row.start)
        runs = lines(page, "run")
        assert sorted(n for run in runs for n in run.loadings) == sorted(row.loading or 0 for row in own)
        assert [run.data["data-start"] for run in runs] == sorted(run.data["data-start"] for run in runs)
        start = {row.loading: row.start.isoformat() for row in own}
        for run in runs:
            assert run.data["data-start"] == min(start[n] for n in run.loadings)
            assert run.data["data-end"] == max(ends[n].isoformat() for n in run.loadings)


@pytest.mark.parametrize("name", NAMES)
def test_a_line_says_what_its_rows_say(name: str) -> None:
    """Times, setting, dwell, pressure, order, garment, films and count of a line are those of its loadings' rows."""
    day = work(name).day
    for page in press_pages(name).values():
        for run in lines(page, "run"):
            rows = [row for row in work(name).rows if row.loading in run.loadings]
            first = min(rows, key=lambda row: row.start)
            line = next(ln for ln in day.lines if (ln.order, ln.line) == (first.order, first.line))
            pieces = {piece for row in rows for piece in row.pieces}
            assert f"{len(pieces)} × {line.garment}" in run.text
            assert f"{first.temperature} °{day.shop.units.temperature}" in run.text
            assert f" {first.pressure} " in run.text and f"{first.start:%H:%M}" in run.text
            assert f"order {line.order}" in run.text and f"on the {first.placement}" in run.text
            for operation in {row.operation for row in rows}:
                dwells = [row.seconds for row in rows if row.what == "dwell" and row.operation == operation]
                assert re.search(rf"\b{min(dwells)} s\b", run.text)
            place = next(p for p in day.design[line.design].placement if p.at == first.placement)
            laid = {n for row in rows for n in row.layers}
            for number, layer in enumerate(place.layer, 1):
                assert (f"layer {number} {layer.film}" in run.text) == (number in laid)


@pytest.mark.parametrize("name", NAMES)
def test_no_line_reaches_over_a_break(name: str) -> None:
    """A stretch of work is parted at the shop's breaks, and a break between two of them is told."""
    breaks = work(name).day.shop.hours.breaks
    for page in press_pages(name).values():
        runs = lines(page, "run")
        spans = [[clock(run.data[key]) for key in ("data-start", "data-end")] for run in runs]
        for start, end in breaks:
            assert not any(a < end and start < b for a, b in spans)
            dates = {run.data["data-start"][:10] for run in runs}
            told = f"{start // 3600:02d}:{start // 60 % 60:02d}–"
            for date in dates:
                today = [span for run, span in zip(runs, spans, strict=True) if run.data["data-start"][:10] == date]
                if any(b <= start for _, b in today) and any(a >= end for a, _ in today):
                    assert any(line.text.startswith(told) for line in lines(page, "pause"))


def clock(moment: str) -> int:
    """Seconds after midnight of an ISO 8601 time."""
    hours, minutes, seconds = map(int, moment[11:].split(":"))
    return hours * 3600 + minutes * 60 + seconds


@pytest.mark.parametrize("name", NAMES)
def test_every_change_of_setting_has_a_line_of_its_own(name: str) -> None:
    """Each change row stands once, full width, before the work it is for; a date's first is called the warm-up."""
    for press, page in press_pages(name).items():
        rows = sorted((r for r in work(name).rows if r.what == "change" and r.press == press), key=lambda r: r.start)
        told = lines(page, "change")
        assert [line.data["data-start"] for line in told] == [row.start.isoformat() for row in rows]
        seen = set()
        for line, row in zip(told, rows, strict=True):
            verb = "set to" if row.start.date() in seen else "warm up to"
            seen.add(row.start.date())
            setting = f"{verb} {row.temperature} °{work(name).day.shop.units.temperature} {row.pressure}"
            assert line.text.startswith(f"{row.start:%H:%M} {setting}")
        order = [line.data["data-start"] for line in lines(page) if line.style in ("change", "run")]
        assert order == sorted(order)


@pytest.mark.parametrize("name", NAMES)
def test_peels_are_told_with_their_window(name: str) -> None:
    """A line says each film's peel and its seconds after opening: hot 0 to 5, warm 5 to 30, cold from 60 where a film
    gives none (the day folder's own defaults), no sooner than Newton's law of cooling lets a `peel_below` (Incropera,
    chapter 5: lumped capacitance)."""
    day = work(name).day
    checked = 0
    for page in press_pages(name).values():
        for run in lines(page, "run"):
            dwells = [r for r in work(name).rows if r.loading in run.loadings and r.what == "dwell" and r.layers]
            for row in dwells[:1]:
                line = next(ln for ln in day.lines if (ln.order, ln.line) == (row.order, row.line))
                place = next(p for p in day.design[line.design].placement if p.at == row.placement)
                films = [day.films[place.layer[n - 1].film] for n in row.layers]
                usual = {"hot": [0, 5], "warm": [5, 30], "cold": [60, math.inf]}
                given = [list(film.peel_after_s or usual[film.peel]) for film in films]
                earliest = [window[0] for window in given]
                tau = day.garments[line.garment].cooling_tau_s or 0
                room, hot = day.shop.room_temperature, row.temperature or 0
                for film in films:
                    if film.peel_below is not None and hot > film.peel_below:
                        earliest.append(math.ceil(tau * math.log((hot - room) / (film.peel_below - room)) - 1e-9))
                latest = min(math.inf if window[1] is None else window[1] for window in given)
                words = (
                    f"no sooner than {max(earliest):g} s"
                    if latest == math.inf
                    else f"{max(earliest):g} to {latest:g} s"
                )
                if max(earliest) == latest:
                    words = f"{latest:g} s"
                assert f"peel {films[0].peel} , {words} after opening" in run.text
                checked += 1
    assert checked > 2


def test_a_film_under_a_cover_sheet_says_so() -> None:
    """The cover sheet is a plain yes or no, from the catalogue."""
    day, found = work("mixed-peels").day, set()
    for page in press_pages("mixed-peels").values():
        for run in lines(page, "run"):
            films = {film for film in day.films if f" {film} " in run.text}
            covered = any(day.films[film].cover_sheet for film in films)
            if films:
                assert ("cover sheet yes" in run.text) == covered
                found.add(covered)
    assert found == {True, False}


@pytest.mark.parametrize("name", NAMES)
def test_pieces_are_sent_on(name: str) -> None:
    """A line names the press and the placement its pieces go to next, or says that they are done."""
    rows = [row for row in work(name).rows if row.what == "load"]
    for page in press_pages(name).values():
        for run in lines(page, "run"):
            for loading in run.loadings:
                own = next(row for row in rows if row.loading == loading)
                after = [r for r in rows if r.pieces and r.pieces[0] in own.pieces and r.start > own.start]
                if not after:
                    assert "done" in run.text.partition("then:")[2]
                    continue
                then = min(after, key=lambda row: row.start)
                assert f"{then.placement}, " in run.text and f"on {then.press} from" in run.text.partition("then:")[2]


def test_names_stand_in_the_order_of_the_loadings() -> None:
    """Every name and number of names.csv stands with its piece on a press's sheet, in the order they are pressed."""
    with (ROOT / "scenarios" / "team-shirts" / "names.csv").open(encoding="utf-8", newline="") as stream:
        given = {
            f"{r['order']}-{r['line']}-{int(r['piece']):03d}": f"{r['name']} {r['number']}"
            for r in csv.DictReader(stream)
        }
    made = work("team-shirts")
    told: list[str] = []
    for press, page in press_pages("team-shirts").items():
        words = [line.text for line in lines(page, "names")]
        here = re.findall(r"(\S.*?) (\d+-\d+-\d{3})(?: |$)", " ".join(words))
        assert all(given[piece] == name.strip() for name, piece in here)
        own = [r for r in made.rows if r.what == "load" and r.press == press and r.placement == "back"]
        pressed = [p for r in sorted(own, key=lambda r: r.start) for p in r.pieces if p in given]
        assert [piece for _, piece in here] == pressed
        told += pressed
    assert sorted(told) == sorted(given)
    order = pages("team-shirts")["order-2104.html"]
    assert all(f"<b>{name.rpartition(' ')[0]}</b>" in order for name in given.values())


def test_names_stand_with_whoever_lays_them() -> None:
    """A person's sheet names the pieces whose own cut that person lays (the back of order 2104's), and no others."""
    made = work("team-shirts")
    cuts = {f"{row.name} {row.number}" for row in made.names.values()}
    told = 0
    for person in made.day.people:
        page = pages("team-shirts")[f"person-{person}.html"]
        said = re.findall(r'class="cuts">names: ([^<]*)<', page)
        laid = {
            piece
            for row in made.rows
            if (row.what, row.person, row.placement) == ("align", person, "back")
            for piece in row.pieces
        }
        expected = {f"{made.names[piece].name} {made.names[piece].number}" for piece in laid if piece in made.names}
        assert {unescape(cut) for names in said for cut in names.split(", ")} == expected <= cuts
        told += len(expected)
    assert told == len(cuts)


def test_a_piece_without_a_name_is_told() -> None:
    """Where names.csv holds no row for a personalised piece, its line says so and keeps its place."""
    made = work("team-shirts")
    short = replace(made, day=replace(made.day, names=made.day.names[1:]))
    missing = made.day.names[0]
    piece = f"{missing.order}-{missing.line}-{missing.piece:03d}"
    text = " ".join(line.text for p in made.day.presses for line in lines(sheets(short)[f"press-{p}.html"], "names"))
    assert f"no name given {piece}" in text


@pytest.mark.parametrize("name", NAMES)
def test_loadings_have_boxes_up_to_twelve(name: str) -> None:
    """A run of up to twelve loadings has a box for each, a longer one a line to count on."""
    for page in press_pages(name).values():
        for cell in re.findall(r'<tr class="run".*?</tr>', page):
            loadings = re.search(r'data-loadings="([^"]*)"', cell)
            assert loadings is not None
            count = len(loadings[1].split())
            if "by name" in cell:
                continue
            assert cell.count("checkbox") == (count if count <= 12 else 0)
            assert (f"of {count}" in cell) or count <= 12


@pytest.mark.parametrize("name", NAMES)
def test_every_hand_row_stands_with_its_person(name: str) -> None:
    """Each hand row lies in exactly one stint of its person; where the press changes a line says so."""
    made = work(name)
    for person in made.day.people:
        own = [row for row in made.rows if row.person == person and row.what in HAND_ROWS]
        found = stints(made, person)
        assert sorted(map(repr, (row for stint in found for row in stint.rows))) == sorted(map(repr, own))
        page = pages(name)[f"person-{person}.html"]
        told = lines(page, "stint")
        assert [line.loadings for line in told] == [list(dict.fromkeys(r.loading for r in s.rows)) for s in found]
        last = None
        for line in lines(page):
            if line.style == "run stint":
                stint = found[told.index(line)]
                assert stint.run.press in line.text
                last = stint
            elif line.style == "move":
                assert "begin at" in line.text or "go to" in line.text or "also to" in line.text
        assert last is found[-1] if found else last is None


@pytest.mark.parametrize("name", NAMES)
def test_a_persons_sheet_has_all_they_set_by(name: str) -> None:
    """Whoever carries only their own sheet reads setting and seconds there, and the prepress before laying."""
    made, found = work(name), set()
    for person in made.day.people:
        told = lines(pages(name)[f"person-{person}.html"], "stint")
        for line, stint in zip(told, stints(made, person), strict=True):
            run = [row for row in made.rows if row.loading in stint.run.numbers]
            shortest = min(row.seconds for row in run if row.what == "dwell")
            degrees = f"{run[0].temperature} °{made.day.shop.units.temperature}"
            assert f"{degrees}, " in line.text and f" {shortest} s, " in line.text
            lays = any(row.what == "align" for row in stint.rows)
            prepressed = lays and any(row.what == "prepress" for row in run)
            assert ("prepress " in line.text) == prepressed
            found.add(prepressed)
    assert True in found


def test_a_change_is_ready_when_the_work_after_it_begins() -> None:
    """30 s from 11:22:35 is over at 11:23:05: the sheet says 11:23 as the run after it does, and not 11:24."""
    for press, page in press_pages("team-shirts").items():
        changes = [
            row for row in work("team-shirts").rows if row.what == "change" and row.press == press and row.seconds
        ]
        assert all(f"ready {row.end:%H:%M} (" in page for row in changes) and changes


@pytest.mark.parametrize("name", NAMES)
def test_another_press_is_announced(name: str) -> None:
    """The last line above that sends a person somewhere always names the press they work at, day by day."""
    made = work(name)
    for person in made.day.people:
        sent: str | None = None
        found = iter(stints(made, person))
        for line in lines(pages(name)[f"person-{person}.html"]):
            if line.style == "date":
                sent = None
            elif line.style == "move":
                assert ("begin at" in line.text) == (sent is None)
                sent = line.text
            elif line.style == "run stint":
                stint = next(found)
                assert sent is not None and re.search(rf"\b{stint.run.press}\b", sent)
                if sent.startswith(f"{stint.start:%H:%M} go to"):
                    sent_there = (stint.run.press, f"{stint.start:%H:%M}")  # by both, if two begin in that minute
                    before = [s for s in stints(made, person) if (s.run.press, f"{s.start:%H:%M}") != sent_there]
                    assert not any(s.start < stint.start < s.end for s in before)


@pytest.mark.parametrize("name", NAMES)
def test_an_order_sheet_holds_all_its_work(name: str) -> None:
    """An order's sheet has every loading of it once, its lines, its due time and whether that holds."""
    made = work(name)
    for order in made.plan.orders:
        page = pages(name)[f"order-{order.order.lower()}.html"]
        own = {row.loading for row in made.rows if row.order == order.order and row.loading is not None}
        assert sorted(n for run in lines(page, "run") for n in run.loadings) == sorted(own)
        assert escape(order.customer) in page
        verdict = re.search(r'<p class="verdict.*?</p>', page)
        assert verdict is not None
        said = re.sub(r"<[^>]+>", "", verdict[0])
        assert f"{order.pieces} piece" in said
        assert ("LATE by" in said) == bool(order.late_min)
        assert ("Due" in said) == (order.due is not None)
        if order.due is not None:
            assert f"{order.due:%H:%M}" in said
        for line in made.day.orders[order.order].lines:
            assert f"<td>{line.quantity}</td><td>{escape(line.design)}</td>" in page


@pytest.mark.parametrize("name", NAMES)
def test_cautions_stand_on_every_sheet(name: str) -> None:
    """All cautions close every sheet, and a short one stands in the foot that every printed page repeats."""
    for file, page in pages(name).items():
        assert all(escape(caution) in page for caution in CAUTIONS), file
        assert file == "index.html" or SHORT_CAUTION in unescape(page.partition("<tfoot>")[2]), file


@pytest.mark.parametrize("name", NAMES)
def test_sheets_ask_for_nothing(name: str) -> None:
    """A sheet is one file: no source, style or script from elsewhere, and no link but those to its siblings."""
    for page in pages(name).values():
        assert not re.search(r"<link|<img|src=|url\(|@import|https?:", page)
        assert "default-src 'none'" in page


@pytest.mark.parametrize(("paper", "size"), [("a4", "A4"), ("letter", "letter")])
def test_paper_is_chosen(paper: str, size: str) -> None:
    """Every sheet names its paper in the words of CSS Paged Media, for A4 or Letter."""
    for page in sheets(work("two-presses"), paper).values():  # type: ignore[arg-type]
        assert f"@page {{ size: {size} portrait;" in page


def test_what_has_changed_stands_on_every_sheet() -> None:
    """A warning that the plan is out of date stands on every sheet, escaped."""
    noted = sheets(replace(work("two-presses"), notes=("shop.toml has <changed>",)))
    assert all('<p class="note">shop.toml has &lt;changed&gt;</p>' in page for page in noted.values())


def test_work_that_the_folder_no_longer_lists_is_still_told() -> None:
    """Where an order was struck off after the plan was made, its loadings still stand on the press's sheet."""
    made = work("two-presses")
    gone = replace(made, day=replace(made.day, lines=made.day.lines[1:]))
    for press in made.day.presses:
        own = {row.loading for row in made.rows if row.press == press and row.loading is not None}
        page = sheets(gone)[f"press-{press}.html"]
        assert {n for run in lines(page, "run") for n in run.loadings} == own


def test_a_run_of_many_names_is_parted() -> None:
    """Names come in rows of at most 24, so that no row is taller than a page."""
    made = work("team-shirts")
    line = next(line for line in made.day.lines if made.day.design[line.design].personal)
    rows = [row for row in made.rows if (row.order, row.line, row.placement) == (*line.key, "back")]
    loading, press = rows[0].loading, rows[0].press
    many = [
        replace(row, start=row.start + later, end=row.end + later, loading=n, pieces=(line.piece(n),))
        for n, later in ((n, timedelta(seconds=80 * n)) for n in range(1, 31))
        for row in rows
        if row.loading == loading
    ]
    page = sheets(replace(made, rows=many))[f"press-{press}.html"]
    told = [line.text for line in lines(page, "names")]
    assert len(lines(page, "run")) == 1
    assert [len(re.findall(r"-\d{3}\b", text)) for text in told] == [24, 6]


def test_a_loading_that_never_closed_is_told() -> None:
    """Where the press went down before it closed, the line says that nothing was pressed."""
    made = work("two-presses")
    load = next(row for row in made.rows if row.what == "load")
    page = sheets(replace(made, rows=[load]))[f"press-{load.press}.html"]
    (run,) = lines(page, "run")
    assert "not pressed" in run.text and " 0 s" not in run.text


def test_sheets_of_two_plans_can_be_told_apart() -> None:
    """Every sheet names its plan by a mark, on each printed page, that another plan does not have."""
    made = work("two-presses")
    other = replace(made, plan=made.plan.model_copy(update={"seed": 7}))
    assert made.mark != other.mark
    for file, page in sheets(other).items():
        assert page.count(f"plan {other.mark}") == (1 if file == "index.html" else 2)
        assert made.mark not in page
