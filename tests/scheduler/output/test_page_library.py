"""The drawing library inside the page."""

from __future__ import annotations

import re

import pytest
from plotly.offline import get_plotlyjs

from scheduler.output.page_library import drawing_library, with_bars_only

BAR = 'var a=W((x,y)=>{"use strict";y.exports=b()});'
KIND = 'var b=W((x,y)=>{"use strict";y.exports={attributes:c(),name:"bar",meta:{}}});'
LIST = "P.register([a(),d(),e()]);z.exports=P"


def test_the_library_sets_up_bars_only() -> None:
    """The page's plotly.js is the package's in everything but the list of kinds it sets up, which is shorter."""
    whole, ours = str(get_plotlyjs()), drawing_library()
    start = next(n for n, (a, b) in enumerate(zip(whole, ours, strict=False)) if a != b)
    left_out = whole[start : start + len(whole) - len(ours)]
    assert whole == ours[:start] + left_out + ours[start:]
    assert re.fullmatch(r"(?:,[\w$]+\(\)){40,60}", left_out)


@pytest.mark.parametrize(
    "text",
    [
        KIND + BAR + "P.register([a()])",  # nothing to leave out
        KIND + BAR + LIST + LIST,  # which one?
        KIND.replace('"bar"', '"box"') + BAR + LIST,  # bars are not the first
        BAR + LIST,  # nobody knows what the first is
        "a library put together otherwise",
    ],
)
def test_another_library_stays_whole(text: str) -> None:
    """Where the list cannot be told for sure, nothing is changed."""
    assert with_bars_only(text) == text


def test_the_rest_of_the_list_is_left_out() -> None:
    """Bars stay, what comes after them is not set up."""
    assert with_bars_only(KIND + BAR + LIST) == KIND + BAR + "P.register([a()]);z.exports=P"
