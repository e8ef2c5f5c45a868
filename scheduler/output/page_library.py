"""The drawing library inside the page: plotly.js as the plotly package brings it, told to set up less.

Setting up its four dozen kinds of trace takes a browser longer than reading the file, and the pictures draw bars and
lines only. Lines belong to its core, so bars are the one kind that is registered; all its code and tools stay.
"""

from __future__ import annotations

import re

# The list in which its index registers every kind of trace, the first one caught.
_KINDS = re.compile(r"\.register\(\[([\w$]+)\(\)(?:,[\w$]+\(\))+\]\)")


def drawing_library() -> str:
    """plotly.js with bars and the core's lines set up; all of it where another version is put together otherwise."""
    from plotly.offline import get_plotlyjs

    return with_bars_only(str(get_plotlyjs()))


def with_bars_only(text: str) -> str:
    """The library with a list of one kind to register, as long as there is one list and bars come first in it."""
    lists = list(_KINDS.finditer(text))
    if len(lists) != 1 or 'name:"bar"' not in _exported(text, _exported(text, f"{lists[0][1]}()")):
        return text
    return text[: lists[0].start()] + f".register([{lists[0][1]}()])" + text[lists[0].end() :]


def _exported(text: str, called: str) -> str:
    """What the module behind a call like `x()` exports, as written in the bundle; "" where that is not found."""
    if not re.fullmatch(r"[\w$]+\(\)", called):
        return ""
    name = re.escape(called.removesuffix("()"))
    module = re.search(
        rf'(?<![\w$]){name}=[\w$]+\(\([\w$]+,([\w$]+)\)=>\{{"use strict";\1\.exports=(.{{1,2000}}?)\}}\);', text, re.S
    )
    return module[2] if module else ""
