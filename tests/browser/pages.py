"""Pages of real plans for the browser tests."""

from __future__ import annotations

import shutil
from functools import cache
from pathlib import Path

from scheduler.output.timeline import timeline_page
from scheduler.planning import Planned, plan_folder

SCENARIOS = Path(__file__).parents[2] / "scenarios"
CHROMIUM = Path("/usr/bin/chromium")
ARGUMENTS = (
    "--no-sandbox",
    "--disable-gpu",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
)

WICKED_ORDER = "<script>window.hit=1</script>"
WICKED_CUSTOMER = "</script><img src=x onerror=window.hit=2><b>%{x}</b>&lt;i&gt;"


@cache
def planned(name: str) -> Planned:
    """A scenario's quick plan."""
    return plan_folder(SCENARIOS / name, effort="quick")


@cache
def html(name: str) -> str:
    """A scenario's page."""
    plan = planned(name)
    return timeline_page(plan.day, plan.plan, plan.rows)


def wicked(folder: Path) -> Planned:
    """A plan whose shop, press, person, order and customer are named to break out of the page."""
    shutil.copytree(SCENARIOS / "two-presses", folder)
    orders = (folder / "orders.csv").read_text()
    orders = orders.replace("401,Kestrel Removals", f"{WICKED_ORDER},{WICKED_CUSTOMER}")
    (folder / "orders.csv").write_text(orders)
    shop = (folder / "shop.toml").read_text()
    shop = shop.replace('"mara"', "'<img src=x onerror=window.hit=3>'").replace(
        '"quick"', "'<svg onload=window.hit=4>'"
    )
    (folder / "shop.toml").write_text(shop)
    return plan_folder(folder, effort="quick")
