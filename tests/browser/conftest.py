"""A real browser, where there is one. PRESSDAY_BROWSER=required turns its absence into a failure."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import pytest

from tests.browser.pages import ARGUMENTS, CHROMIUM, html


@dataclass
class Opened:
    """A page in the browser with what it said and asked for."""

    page: Any
    console: list[str] = field(default_factory=list)
    errors: list[str] = field(default_factory=list)
    requests: list[str] = field(default_factory=list)


@pytest.fixture(scope="session")
def browser() -> Iterator[Any]:
    """Chromium, run by Playwright."""
    if not CHROMIUM.exists():
        message = f"no browser at {CHROMIUM}"
        if os.environ.get("PRESSDAY_BROWSER") == "required":
            pytest.fail(message)
        pytest.skip(message)
    from playwright.sync_api import sync_playwright

    with sync_playwright() as playwright:
        started = playwright.chromium.launch(executable_path=str(CHROMIUM), args=list(ARGUMENTS))
        yield started
        started.close()


Open = Callable[..., Opened]


@pytest.fixture
def open_text(browser: Any, tmp_path: Path) -> Iterator[Open]:
    """Opens a page's text at a width and waits until it is drawn."""
    pages: list[Any] = []

    def opened(text: str, width: int = 1400) -> Opened:
        path = tmp_path / "timeline.html"
        path.write_text(text, encoding="utf-8")
        page = browser.new_page(viewport={"width": width, "height": 900})
        pages.append(page)
        found = Opened(page)
        page.on("console", lambda message: found.console.append(message.text))
        page.on("pageerror", lambda error: found.errors.append(str(error)))
        page.on("request", lambda request: found.requests.append(request.url))
        page.goto(path.as_uri(), timeout=60_000)
        page.wait_for_selector("html[data-ready]", state="attached", timeout=60_000)
        return found

    yield opened
    for page in pages:
        page.close()


@pytest.fixture
def open_scenario(open_text: Open) -> Open:
    """Opens a scenario's page."""
    return lambda name, width=1400: open_text(html(name), width)
