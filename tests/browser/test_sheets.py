"""The sheets in a real browser, on screens and on paper."""

from __future__ import annotations

import re
import shutil
from collections import defaultdict
from pathlib import Path
from typing import Any

import pytest

from scheduler.breakdown import break_down
from scheduler.output.sheets import sheets
from scheduler.output.sheets_facts import Work
from scheduler.planning import plan_folder
from tests.browser.conftest import Open, Opened
from tests.browser.pages import SCENARIOS, WICKED_CUSTOMER, WICKED_ORDER, wicked
from tests.scheduler.output.sheeted import pages, work

PAPERS = {"a4": (595, 842), "letter": (612, 792)}  # ISO 216 A4 and US Letter (ANSI A), in points

# Puts a link at the top and at the end of every row's tallest part and in the foot: a PDF keeps links page by page.
MARK = """() => {
  const link = (to) => Object.assign(document.createElement("a"), {href: `http://row.invalid/${to}`, textContent: "."});
  document.querySelectorAll(".sheet > tbody > tr").forEach((row, n) => {
    const cell = row.querySelector(".what") || row.cells[0];
    cell.prepend(link(`top-${n}`));
    cell.append(link(`end-${n}`));
  });
  document.querySelector(".sheet > tfoot td").append(link("foot-0"));
  return document.querySelectorAll(".sheet > tbody > tr").length;
}"""


def clean(opened: Opened) -> None:
    assert opened.errors == []
    assert opened.console == []
    assert len(opened.requests) == 1 and opened.requests[0].startswith("file:")


def marks_by_page(sheet: bytes) -> list[set[str]]:
    """The marks on each page of a PDF, from the links of its pages (ISO 32000-1, 12.5.6.5: link annotations)."""
    objects = dict(re.findall(rb"(?m)^(\d+) 0 obj\n(.*?)\nendobj", sheet, re.DOTALL))
    found = []
    for text in objects.values():
        if b"/Type /Page\n" in text:
            links = re.search(rb"/Annots \[([^\]]*)\]", text)
            refs = re.findall(rb"(\d+) 0 R", links[1]) if links else []
            targets = (re.search(rb"row\.invalid/([\w-]+)", objects[ref]) for ref in refs)
            found.append({target[1].decode() for target in targets if target})
    return found


def sizes(sheet: bytes) -> set[tuple[int, int]]:
    """The sizes of a PDF's pages in points."""
    boxes = re.findall(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", sheet)
    return {(round(float(width)), round(float(height))) for width, height in boxes}


@pytest.mark.parametrize("file", ["press-west.html", "person-ines.html", "order-2104.html", "index.html"])
@pytest.mark.parametrize("width", [390, 800, 1400])
def test_sheets_are_quiet_and_never_scroll_sideways(open_text: Open, file: str, width: int) -> None:
    """Nothing goes wrong in a sheet, nothing is asked for, and nothing lies beyond the screen's edge."""
    opened = open_text(pages("team-shirts")[file], width)
    clean(opened)
    assert opened.page.evaluate("document.documentElement.scrollWidth") <= width
    beyond = (
        "[...document.querySelectorAll('body *')].filter(e => e.getBoundingClientRect().right > innerWidth + 1).length"
    )
    assert opened.page.evaluate(beyond) == 0


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("file", ["press-west.html", "person-ines.html", "order-2104.html"])
def test_no_row_is_cut_across_pages(open_text: Open, paper: Any, file: str) -> None:
    """On A4 and Letter every row begins and ends on one page, none is lost, and the short caution is on each page."""
    page = open_text(sheets(work("team-shirts"), paper)[file]).page
    count = page.evaluate(MARK)
    sheet = page.pdf(prefer_css_page_size=True)
    assert sizes(sheet) == {PAPERS[paper]}
    on_page: dict[str, list[int]] = defaultdict(list)
    for number, marks in enumerate(marks_by_page(sheet)):
        for mark in marks:
            on_page[mark].append(number)
    assert count > 5
    for row in range(count):
        assert len(on_page[f"top-{row}"]) == 1, row
        assert on_page[f"top-{row}"] == on_page[f"end-{row}"], row
    assert on_page["foot-0"] == sorted({number for row in range(count) for number in on_page[f"top-{row}"]})
    assert len(on_page["foot-0"]) > 1, "a sheet of one page shows nothing"


@pytest.mark.parametrize(("name", "paper"), [("team-shirts", "letter"), ("mixed-peels", "a4")])
def test_no_page_of_cautions_alone(open_text: Open, name: str, paper: Any) -> None:
    """On paper the cautions stand whole on the last page of every sheet, below some of its work or names."""
    for file, text in sheets(work(name), paper).items():
        page = open_text(text).page
        page.evaluate("""() => {
          const to = (name) => ({href: `http://row.invalid/${name}`, textContent: "."});
          const link = (name) => Object.assign(document.createElement("a"), to(name));
          const parts = document.querySelectorAll("header, .what, .names, .links");
          parts.forEach((part, n) => part.append(link(`part-${n}`)));
          const items = document.querySelectorAll("footer h2, footer li:last-child");
          items.forEach((part, n) => part.append(link(`foot-${n}`)));
        }""")
        last = marks_by_page(page.pdf(prefer_css_page_size=True))[-1]
        assert {"foot-0", "foot-1"} < last, file
        page.close()


def test_a_change_of_setting_stands_with_what_it_is_for(open_text: Open) -> None:
    """On paper a change of setting is on the same page as the run after it."""
    page = open_text(pages("team-shirts")["press-east.html"]).page
    kinds = page.evaluate("[...document.querySelectorAll('.sheet > tbody > tr')].map(r => r.className)")
    page.evaluate(MARK)
    found = marks_by_page(page.pdf(prefer_css_page_size=True))
    changes = [n for n, kind in enumerate(kinds[:-1]) if kind == "change" and kinds[n + 1] == "run"]
    assert changes
    for n in changes:
        assert any({f"end-{n}", f"top-{n + 1}"} <= marks for marks in found)


def test_changes_stand_out_without_colour(open_text: Open) -> None:
    """A change of setting is as wide as the sheet, in larger type than the work, with a heavy line round it."""
    found = []
    for name, text in pages("team-shirts").items():
        if name.startswith("press-"):
            page = open_text(text).page
            page.emulate_media(media="print")
            found += page.evaluate(
                "[...document.querySelectorAll('.change td')].map(td => { const s = getComputedStyle(td); return "
                "[td.getBoundingClientRect().width, td.closest('table').getBoundingClientRect().width, "
                "parseFloat(s.fontSize), parseFloat(s.borderTopWidth), "
                "parseFloat(getComputedStyle(document.body).fontSize)]; })"
            )
    assert len(found) > 1
    for width, whole, size, border, body in found:
        assert width > whole - 2 and size > 1.25 * body and border >= 3


def test_ticks_are_kept(open_text: Open) -> None:
    """A box that was ticked on a tablet is still ticked when the sheet is opened again, and another's is not."""
    page = open_text(pages("team-shirts")["press-west.html"]).page
    boxes = page.locator("input[type=checkbox]")
    boxes.nth(2).check()
    page.reload()
    page.wait_for_selector("html[data-ready]", state="attached")
    assert boxes.nth(2).is_checked() and not boxes.nth(1).is_checked() and not boxes.nth(3).is_checked()
    boxes.nth(2).uncheck()
    page.reload()
    assert not boxes.nth(2).is_checked()


def test_links_lead_to_the_sheets(browser: Any, tmp_path: Path) -> None:
    """From the index every sheet can be opened, and from there the index again."""
    for file, text in pages("mixed-peels").items():
        (tmp_path / file).write_text(text, encoding="utf-8")
    page = browser.new_page()
    page.goto((tmp_path / "index.html").as_uri())
    names = page.locator(".links a").all_inner_texts()
    assert len(names) == len(pages("mixed-peels")) - 1
    for name in names:
        page.locator(".links a", has_text=re.compile(f"^{re.escape(name)}$")).click()
        assert name in page.locator("h1").inner_text()
        page.get_by_role("link", name="all sheets").click()
    page.close()


def test_names_are_inert(open_text: Open, tmp_path: Path) -> None:
    """Names made to break out of a sheet stand in it as they were typed, and nothing of them runs."""
    made = wicked(tmp_path / "day")
    written = sheets(Work(made.day, made.plan, made.rows, break_down(made.day)))
    shown = []
    for text in written.values():
        opened = open_text(text)
        clean(opened)
        page = opened.page
        assert page.evaluate("window.hit") is None
        assert page.locator("main img, main script, main b script, header img, header svg").count() == 0
        shown.append(page.locator("body").inner_text())
    assert any(WICKED_ORDER in text for text in shown) and any(WICKED_CUSTOMER in text for text in shown)


def test_long_names_stay_within_the_sheet(open_text: Open, tmp_path: Path) -> None:
    """Names as long as they may be, without a blank in them, are broken rather than pushed over the edge."""
    folder = tmp_path / "day"
    shutil.copytree(SCENARIOS / "two-presses", folder)
    for file, name in (("shop.toml", '"quick"'), ("shop.toml", '"mara"')):
        text = (folder / file).read_text(encoding="utf-8")
        long = (name.strip('"') * 20)[:80]
        (folder / file).write_text(text.replace(name, f'"{long}"'), encoding="utf-8")
    orders = (folder / "orders.csv").read_text(encoding="utf-8")
    orders = orders.replace("401,Kestrel Removals", f"{'4' * 80},{'Kestrel' * 28}")
    (folder / "orders.csv").write_text(orders, encoding="utf-8")
    made = plan_folder(folder, effort="quick")
    for text in sheets(Work(made.day, made.plan, made.rows, break_down(made.day))).values():
        page = open_text(text).page
        for width in (390, 800):
            page.set_viewport_size({"width": width, "height": 900})
            assert page.evaluate("document.documentElement.scrollWidth") <= width
