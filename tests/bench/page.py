"""How long a large day's page takes to open: `python -m tests.bench.page` writes tests/bench/PAGE.md.

Chromium, run by Playwright, opens the page of the 1,200-piece day afresh each time, 1400 px wide. Told are the medians
of the seconds from the start of the navigation to the first drawn picture, and from a zoom to the picture that answers
it; beside them what the page's own thread worked for each (its processor time), which a busy machine stretches less.
"""

from __future__ import annotations

import argparse
import os
import platform
import statistics
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from scheduler.output.page_library import drawing_library
from scheduler.output.timeline import timeline_page
from scheduler.planning import plan_folder
from tests.bench.days import named
from tests.browser.pages import ARGUMENTS, CHROMIUM

TABLE = Path(__file__).with_name("PAGE.md")
TIMES = 7

# Notes when the first bar stands in the picture and when the browser has painted it.
WATCH = """
window.painted = () => new Promise((done) => requestAnimationFrame(() => setTimeout(() => done(performance.now()), 0)));
const watch = new MutationObserver(() => {
  if (document.querySelector("#plot0 .barlayer .point path")) { watch.disconnect(); window.drawn = painted(); }
});
watch.observe(document, {childList: true, subtree: true});
"""
ZOOM = """async () => {
  const picture = document.getElementById("plot0").picture, middle = (picture.day.from + picture.day.to) / 2;
  const begun = performance.now();
  picture.show(middle - 900, middle + 900);
  return await painted() - begun;
}"""


@dataclass(frozen=True)
class Opening:
    """One opening, in seconds: to the first picture and to a zoom's answer, by the clock and at work."""

    first: float
    zoom: float
    first_work: float
    zoom_work: float


def openings(page: Path) -> Iterator[Opening]:
    """The page opened TIMES times, each in a browser of its own."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        for _ in range(TIMES):
            browser = playwright.chromium.launch(executable_path=str(CHROMIUM), args=list(ARGUMENTS))
            yield _opened(browser, page)
            browser.close()


def _opened(browser: Any, path: Path) -> Opening:
    page = browser.new_page(viewport={"width": 1400, "height": 900})
    page.add_init_script(WATCH)
    session = page.context.new_cdp_session(page)
    session.send("Performance.enable", {"timeDomain": "threadTicks"})
    page.goto(path.resolve().as_uri(), wait_until="commit")
    page.wait_for_selector("html[data-ready]", state="attached", timeout=120_000)
    first = page.evaluate("window.drawn") / 1000
    work = _work(session)
    zoom = page.evaluate(ZOOM) / 1000
    return Opening(first, zoom, work, _work(session) - work)


def _work(session: Any) -> float:
    metrics = {metric["name"]: metric["value"] for metric in session.send("Performance.getMetrics")["metrics"]}
    return float(metrics["TaskDuration"])


def row(words: str, page: Path) -> str:
    """A line of the table."""
    found = list(openings(page))

    def middle(name: str) -> str:
        return f"{statistics.median(getattr(one, name) for one in found):.2f}"

    cells = (words, f"{page.stat().st_size / 1e6:.2f}", *map(middle, ("first", "first_work", "zoom", "zoom_work")))
    return f"| {' | '.join(cells)} |"


def machine() -> str:
    """What it was measured on."""
    names = [line.split(":")[1].strip() for line in _lines("/proc/cpuinfo") if line.startswith("model name")]
    cores = os.cpu_count()
    return f"{names[0] if names else platform.processor()}, {cores} cores, {platform.system()} {platform.machine()}"


def _lines(path: str) -> list[str]:
    return Path(path).read_text().splitlines() if Path(path).exists() else []


def main() -> None:
    """Make the day, plan it with quick effort, open its page and write the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--library", type=Path, help="another build of plotly.js to compare with")
    wanted = parser.parse_args()
    with tempfile.TemporaryDirectory() as scratch:
        folder = Path(scratch) / "d1200"
        named("d1200").write(folder)
        made = plan_folder(folder, effort="quick")
        text = timeline_page(made.day, made.plan, made.rows)
        pages = {"as it is written": text}
        if wanted.library:
            pages[f"with {wanted.library.name}"] = text.replace(drawing_library(), wanted.library.read_text())
        before, rows = os.getloadavg()[0], []
        for number, (words, html) in enumerate(pages.items()):
            path = Path(scratch) / f"{number}.html"
            path.write_text(html, encoding="utf-8")
            rows.append(row(words, path))
    loads = f"{before:.1f} when it began, {os.getloadavg()[0]:.1f} when it ended"
    TABLE.write_text("\n".join([*HEAD, *rows, "", f"{date.today()}, {machine()}; load {loads}.", ""]), encoding="utf-8")
    print(TABLE.read_text())


HEAD = (
    "# How long a page takes to open",
    "",
    "The page of a day of 1,200 pieces on four presses (`d1200` of `tests/bench/days.py`, quick effort), opened afresh",
    f"{TIMES} times in Chromium at 1400 px, medians. Written by `python -m tests.bench.page`. Wanted: under 6 MB, and",
    "under 2 s to the first picture on a quiet machine. `work` is the processor time of the page's own thread: where",
    "nothing else runs, the seconds are about as many.",
    "",
    "| page | MB | first picture, s | its work, s | a zoom answered, s | its work, s |",
    "|---|---|---|---|---|---|",
)


if __name__ == "__main__":
    main()
