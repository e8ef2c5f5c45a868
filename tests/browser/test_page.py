"""The page in a real browser."""

from __future__ import annotations

import re
import shutil
from pathlib import Path
from typing import Any

import pytest

from scheduler.likely import foresee
from scheduler.output.timeline import timeline_page
from scheduler.planning import plan_folder
from tests.browser.conftest import Open, Opened
from tests.browser.pages import SCENARIOS, WICKED_CUSTOMER, WICKED_ORDER, planned, wicked
from tests.browser.test_sheets import marks_by_page


def traces(page: Any, number: int = 0) -> dict[str, dict[str, Any]]:
    """The drawn traces of a picture by name."""
    found = page.evaluate(
        f"document.getElementById('plot{number}').data.map(t => ({{name: t.name, x: t.x, base: t.base, y: t.y, "
        "hovertext: t.hovertext, text: t.text, line: t.line, marker: t.marker}))"
    )
    return {trace["name"]: trace for trace in found}


def show(page: Any, start: int, seconds: int, number: int = 0) -> None:
    """Look at so many seconds from a moment of the picture."""
    page.evaluate(f"document.getElementById('plot{number}').picture.show({start}, {start + seconds})")


def hover(page: Any, said: str) -> str:
    """Point at the middle of the first run's bar whose words hold `said`, and read what pops up."""
    index = next(n for n, text in enumerate(traces(page)["runs"]["hovertext"]) if said in text)
    bar = page.locator("#plot0 .barlayer .trace").first.locator(".point path").nth(index)
    bar.scroll_into_view_if_needed()
    box = bar.bounding_box()
    page.mouse.move(box["x"] + box["width"] / 2 + 1, box["y"] + box["height"] / 2 + 1, steps=3)
    label = page.locator("#plot0 .hoverlayer .hovertext").first
    label.wait_for()
    said_before = ""
    while said_before != (now := str(label.text_content())):  # on its way the mouse passes over other bars
        said_before = now
        page.wait_for_timeout(300)
    return now


def clean(opened: Opened) -> None:
    assert opened.errors == []
    assert opened.console == []
    assert [url for url in opened.requests if not url.startswith(("file:", "data:", "blob:"))] == []
    assert sum(url.startswith("file:") for url in opened.requests) == 1


@pytest.mark.parametrize("name", ["team-shirts", "fair-weekend", "celsius-studio"])
def test_page_is_quiet_and_stays_at_home(open_scenario: Open, name: str) -> None:
    """Nothing goes wrong in the page, and no request leaves it, drawn far and near."""
    opened = open_scenario(name)
    show(opened.page, opened.page.evaluate("document.getElementById('plot0').picture.day.from") + 3600, 600)
    clean(opened)


@pytest.mark.parametrize("name", ["team-shirts", "fair-weekend", "celsius-studio"])
def test_every_order_and_press_is_found(open_scenario: Open, name: str) -> None:
    """Every order has bars and a row in the table; every press and person that works has a lane."""
    page, plan = open_scenario(name).page, planned(name)
    days = page.locator(".plot").count()
    hovers = "\n".join(text for n in range(days) for text in traces(page, n)["runs"]["hovertext"])
    table = page.locator("#orders").inner_text()
    drawn = page.evaluate("[...document.querySelectorAll('.plot .annotation-text')].map(t => t.textContent)")
    for order in plan.day.orders:
        assert f"Order {order}, line" in hovers
        assert order in table
    for lane in {row.press for row in plan.rows if row.press} | {row.person for row in plan.rows if row.person}:
        assert any(lane in text for text in drawn), lane


def test_a_plan_of_two_days_has_a_picture_each(open_scenario: Open) -> None:
    """Each date of work has its own picture, so closed nights take no room."""
    page, plan = open_scenario("fair-weekend").page, planned("fair-weekend")
    dates = sorted({row.start.date() for row in plan.rows})
    titles = page.locator("figcaption").all_inner_texts()
    assert [title.split()[1] for title in titles] == [str(on.day) for on in dates]
    assert len(dates) == 2


def test_a_late_order_stands_out_without_colour(open_scenario: Open) -> None:
    """A late order says LATE in the table and at its due time, first in the table, with a dashed line."""
    page, plan = open_scenario("celsius-studio").page, planned("celsius-studio")
    late = [order for order in plan.plan.orders if order.late_min]
    assert late, "the scenario is built to be late"
    first = page.locator("#orders tbody tr").first
    assert first.get_attribute("class") == "late"
    assert max(late, key=lambda order: order.late_min or 0).order in first.inner_text()
    assert "LATE by" in first.inner_text()
    lines = traces(page)
    assert lines["due, late"]["line"]["dash"] and not lines["due"]["line"].get("dash")
    assert len(lines["due, late"]["x"]) > 0
    notes = page.evaluate("[...document.querySelectorAll('.annotation-text')].map(t => t.textContent)")
    assert any(late[0].order in note and "LATE" in note for note in notes)


@pytest.mark.parametrize("width", [390, 800, 1400])
@pytest.mark.parametrize("name", ["team-shirts", "celsius-studio"])
def test_no_sideways_scroll(open_scenario: Open, name: str, width: int) -> None:
    """The page never needs to be scrolled sideways."""
    page = open_scenario(name, width).page
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert (
        page.evaluate(
            "Math.max(...[...document.querySelectorAll('table, .plot svg')].map(e => e.getBoundingClientRect().right))"
        )
        <= width
    )


def test_runs_far_single_loadings_near(open_scenario: Open) -> None:
    """Far away like loadings are one bar; in less than 40 minutes each loading in sight is a bar of its own."""
    page, plan = open_scenario("team-shirts").page, planned("team-shirts")
    assert "loadings" not in traces(page)
    loads = {row.loading: row for row in plan.rows if row.what == "load"}
    first = min(loads.values(), key=lambda row: row.start)
    midnight = first.start.replace(hour=0, minute=0, second=0)
    start = round((first.start - midnight).total_seconds())
    show(page, start, 30 * 60)
    ends = {row.loading: row.end for row in plan.rows if row.what == "unload"}
    seen = [
        n
        for n, row in loads.items()
        if (row.start - midnight).total_seconds() <= start + 1800 and (ends[n] - midnight).total_seconds() >= start
    ]
    near = traces(page)
    assert len(near["loadings"]["x"]) == len(seen) > 10
    page.get_by_role("button", name="Show the whole day").first.click()
    assert "runs" in traces(page) and "loadings" not in traces(page)


def test_dragging_over_the_picture_looks_closer(open_scenario: Open) -> None:
    """Plotly's own zoom, by dragging, shows single loadings too."""
    page = open_scenario("team-shirts").page
    page.locator("#plot0").scroll_into_view_if_needed()
    box = page.locator("#plot0 .nsewdrag").first.bounding_box()
    page.mouse.move(box["x"] + box["width"] * 0.05, box["y"] + 200)
    page.mouse.down()
    page.mouse.move(box["x"] + box["width"] * 0.08, box["y"] + 200, steps=6)
    page.mouse.up()
    page.wait_for_selector("#plot0[data-view=loadings]")
    assert "every loading" in page.locator(".tools output").first.inner_text()


def test_hover_tells_the_run_as_the_rows_do(open_scenario: Open) -> None:
    """What a bar says when pointed at is what the rows say: order, customer, garment, films, setting, dwell, times."""
    page, plan = open_scenario("team-shirts").page, planned("team-shirts")
    first = min((row for row in plan.rows if row.what == "load"), key=lambda row: (row.start, row.press or ""))
    said = hover(page, f"{first.start:%H:%M:%S} to")
    line = next(ln for ln in plan.day.lines if (ln.order, ln.line) == (first.order, first.line))
    own = [r for r in plan.rows if (r.order, r.line, r.placement) == (first.order, first.line, first.placement)]
    place = next(p for p in plan.day.design[line.design].placement if p.at == first.placement)
    dwells = {row.seconds for row in own if row.what == "dwell" and row.operation == first.operation}
    assert f"Order {first.order}, line {first.line}" in said
    assert f"customer: {line.customer}" in said
    assert line.garment in said and f"placement: {first.placement}, operation {first.operation}" in said
    assert f"{first.temperature} °F · {first.pressure}" in said
    assert f"1 {place.layer[0].film}" in said
    assert any(f"dwell: {dwell} s" in said or f"to {dwell} s" in said for dwell in dwells)
    assert first.person in said


def test_hover_of_a_loading_lists_its_rows(open_scenario: Open) -> None:
    """Near, a loading names its piece and every row of it, to the second."""
    page, plan = open_scenario("celsius-studio").page, planned("celsius-studio")
    first = min((row for row in plan.rows if row.what == "load"), key=lambda row: row.start)
    start = first.start.hour * 3600 + first.start.minute * 60
    show(page, start, 300)
    text = next(t for t in traces(page)["loadings"]["hovertext"] if f"loading: {first.loading}<" in t)
    assert f"piece: {', '.join(first.pieces)}" in text
    for row in (r for r in plan.rows if r.loading == first.loading):
        assert f"{row.start:%H:%M:%S}  {row.what} {row.seconds} s" + (f", {row.person}" if row.person else "") in text


def test_headers_sort_the_table_from_the_keyboard(open_scenario: Open) -> None:
    """A table's headers are buttons: Enter sorts, once more turns it round, and a reader hears which way."""
    page = open_scenario("celsius-studio").page
    pieces = page.locator("#orders thead th", has_text="Pieces")
    column = "#orders tbody tr td:nth-child(3)"
    before = [int(text) for text in page.locator(column).all_inner_texts()]
    pieces.locator("button").focus()
    page.keyboard.press("Enter")
    assert [int(text) for text in page.locator(column).all_inner_texts()] == sorted(before)
    assert pieces.get_attribute("aria-sort") == "ascending"
    page.keyboard.press("Enter")
    assert [int(text) for text in page.locator(column).all_inner_texts()] == sorted(before, reverse=True)
    assert pieces.get_attribute("aria-sort") == "descending"


def test_keyboard_looks_closer(open_scenario: Open) -> None:
    """The picture's buttons can be reached and pressed without a mouse."""
    page = open_scenario("team-shirts").page
    closer = page.get_by_role("button", name="Look closer").first
    closer.focus()
    for _ in range(4):
        page.keyboard.press("Enter")
    assert page.locator("#plot0").get_attribute("data-view") == "loadings"


def test_readers_find_tables_by_caption(open_scenario: Open) -> None:
    """On a phone too the tables are tables to a screen reader, with a caption and row headers, once unfolded."""
    page = open_scenario("celsius-studio", 390).page
    page.locator("summary", has_text="orders is done").focus()
    page.keyboard.press("Enter")
    table = page.get_by_role("table", name="When each order is done")
    assert table.get_by_role("rowheader").count() == len(planned("celsius-studio").plan.orders)
    assert table.get_by_role("columnheader").count() == 7


def test_a_phone_sees_what_matters_first(open_scenario: Open) -> None:
    """On a phone the first screen has what is late and the top of the picture; the tables unfold, and print open."""
    page, plan = open_scenario("celsius-studio", 390).page, planned("celsius-studio").plan
    late = max(plan.orders, key=lambda order: order.late_min or 0)
    first = page.locator(".first")
    assert late.order in first.inner_text() and "LATE by" in first.inner_text()
    assert first.bounding_box()["y"] < page.locator("#plot0").bounding_box()["y"] < 844  # a phone's height
    assert not page.locator("#orders").is_visible()
    page.emulate_media(media="print")
    page.evaluate("dispatchEvent(new Event('beforeprint'))")
    assert page.locator("#orders").is_visible() and not page.locator(".fold summary").first.is_visible()
    page.emulate_media(media="screen")
    page.evaluate("dispatchEvent(new Event('afterprint'))")
    page.locator(".fold summary").first.click()
    assert page.locator("#orders").is_visible()
    assert page.evaluate("document.documentElement.scrollWidth") <= 390


@pytest.mark.parametrize("width", [701, 1400])
def test_nothing_is_folded_where_there_is_room(open_scenario: Open, width: int) -> None:
    """On wider screens the tables of orders stand open and need no opening."""
    page = open_scenario("celsius-studio", width).page
    assert page.locator("#orders").is_visible() and not page.locator(".fold summary").first.is_visible()


@pytest.mark.parametrize("name", ["fair-weekend", "celsius-studio"])
def test_no_sheet_of_cautions_alone(open_text: Open, name: str) -> None:
    """On paper the foot shares its sheet with what comes before it, whole, and no other sheet is nearly bare."""
    made = planned(name)
    page = open_text(timeline_page(made.day, foresee(made.day, made.plan, made.rows), made.rows)).page
    page.evaluate("""() => {
      const to = (name) => ({href: `http://row.invalid/${name}`, textContent: "."});
      const link = (name) => Object.assign(document.createElement("a"), to(name));
      document.querySelectorAll("section, .picture").forEach((part, n) => part.prepend(link(`part-${n}`)));
      document.querySelectorAll("footer h2, footer .made").forEach((part, n) => part.prepend(link(`foot-${n}`)));
    }""")
    on_pages = marks_by_page(page.pdf(prefer_css_page_size=True))
    assert all(on_pages), "a sheet has only the end of something"
    assert {"foot-0", "foot-1"} < on_pages[-1]


@pytest.mark.parametrize("name", ["fair-weekend", "celsius-studio"])
def test_prints_whole_pages(open_scenario: Open, name: str, tmp_path: Path) -> None:
    """On paper the page is a handful of A4 sheets, lying, and the picture fits on one."""
    page = open_scenario(name).page
    sheet = page.pdf(prefer_css_page_size=True, print_background=True)
    boxes = re.findall(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", sheet)
    pictures = page.locator(".picture").count()
    assert pictures + 1 <= len(boxes) <= pictures + 3, "a heading or a picture stands on a sheet alone"
    assert {(round(float(w)), round(float(h))) for w, h in boxes} == {(842, 595)}  # ISO 216 A4 in points, lying
    page.evaluate("window.dispatchEvent(new Event('beforeprint'))")
    sizes = page.evaluate(
        "[...document.querySelectorAll('.plot')].map(p => [p.picture.width, p.picture.height, "
        "Number(p.style.zoom || 1)])"
    )
    for width, height, zoom in sizes:
        assert width * zoom <= (297 - 24) / 25.4 * 96 and (height + 44) * zoom <= (210 - 22) / 25.4 * 96
    page.evaluate("window.dispatchEvent(new Event('afterprint'))")
    assert page.evaluate("document.getElementById('plot0').picture.width") > 1100


def test_names_are_inert(open_text: Open, tmp_path: Path) -> None:
    """Names made to break out of the page stand in it as they were typed, and nothing of them runs."""
    plan = wicked(tmp_path / "day")
    opened = open_text(timeline_page(plan.day, plan.plan, plan.rows))
    page = opened.page
    show(page, page.evaluate("document.getElementById('plot0').picture.day.from") + 1800, 600)
    page.get_by_role("button", name="Show the whole day").first.click()
    flat = re.sub(r"\s+", "", hover(page, "window.hit=2"))
    assert re.sub(r"\s+", "", WICKED_ORDER) in flat
    assert re.sub(r"\s+", "", WICKED_CUSTOMER) in flat
    row = page.locator("#orders tbody tr", has_text="window.hit=1")
    assert row.locator("th").inner_text() == WICKED_ORDER
    assert row.locator("td").first.inner_text() == WICKED_CUSTOMER
    assert page.evaluate("window.hit") is None
    assert page.locator("main img, main script").count() == 0
    clean(opened)


def test_names_are_found_and_inert(open_text: Open, tmp_path: Path) -> None:
    """What is cut for a piece stands in its hover and in a table, with the closing that lays it, and never runs."""
    folder, cut = tmp_path / "day", "<img src=x onerror=window.hit=5>"
    shutil.copytree(SCENARIOS / "team-shirts", folder)
    lines = (folder / "names.csv").read_text(encoding="utf-8").splitlines()
    order, line, piece, _, number = lines[1].split(",")
    lines[1] = f"{order},{line},{piece},{cut},{number}"
    (folder / "names.csv").write_text("\n".join(lines), encoding="utf-8")
    plan = plan_folder(folder, effort="quick")
    opened = open_text(timeline_page(plan.day, plan.plan, plan.rows))
    page, name = opened.page, f"{order}-{line}-{int(piece):03d}"
    (closing,) = (r for r in plan.rows if r.what == "dwell" and name in r.pieces and r.placement == "back")
    page.locator("summary", has_text="cut of their own").click()
    row = page.locator("#names tbody tr", has_text=name)
    assert row.locator("td").all_inner_texts()[:2] == [cut, number]
    assert row.locator("td").last.inner_text() == f"{closing.start:%a %H:%M:%S}"
    assert page.locator("#names tbody tr").count() == len(plan.day.names)
    show(page, closing.start.hour * 3600 + closing.start.minute * 60 - 120, 300)
    said = next(text for text in traces(page)["loadings"]["hovertext"] if f"loading: {closing.loading}<" in text)
    assert "name: &lt;img src=x" in said and number in said
    assert page.evaluate("window.hit") is None and page.locator("main img").count() == 0
    clean(opened)
