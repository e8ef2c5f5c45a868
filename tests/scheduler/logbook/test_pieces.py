"""Pieces as people write them."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from models.order import OrderLine
from scheduler.logbook.pieces import read_pieces

HOME = OrderLine(order="2104", line="home", garment="tee", quantity=24, design="d")
AWAY = OrderLine(order="2104", line="away", garment="tee", quantity=9, design="d")
NAMES = {piece: line for line in (HOME, AWAY) for piece in line.pieces}


@given(st.lists(st.tuples(st.integers(1, 24), st.integers(0, 23)), min_size=1, max_size=6), st.data())
def test_numbers_ranges_and_names_mean_the_same(spans: list[tuple[int, int]], data: st.DataObject) -> None:
    """However a set of pieces is written, it is read as that set, each piece once, in the order written."""
    parts, wanted = [], {}
    for first, more in spans:
        last = min(24, first + more)
        wanted |= dict.fromkeys(HOME.piece(n) for n in range(first, last + 1))
        ways = [f"{first}-{last}", f"{first:03d}..{last}", f" {first} to {last} ", f"{first}–{last}"]
        ways.append(";".join(HOME.piece(n) for n in range(first, last + 1)))
        ways += [str(first)] if first == last else []
        parts.append(data.draw(st.sampled_from(ways)))
    text = data.draw(st.sampled_from([";", " ; ", ";;"])).join(parts)
    assert read_pieces(text, [HOME], NAMES) == (tuple(wanted), [])


@given(st.text(alphabet="0123456789-;. toJan–x+e", max_size=20))
def test_any_text_is_read_or_faulted(text: str) -> None:
    """Whatever is written, every part of it gives pieces of the line or a fault that says what would be right."""
    pieces, faults = read_pieces(text, [HOME], NAMES)
    assert set(pieces) <= set(HOME.pieces) and len(set(pieces)) == len(pieces)
    assert all(value and wrong and right for value, wrong, right in faults)
    assert bool(pieces or faults) == any(part.strip() for part in text.split(";"))


@pytest.mark.parametrize(
    ("text", "value", "wrong"),
    [
        ("25", "25", "pieces 1 to 24"),
        ("0-3", "0-3", "pieces 1 to 24"),
        ("20-30", "20-30", "pieces 1 to 24"),
        ("9-3", "9-3", "backwards"),
        ("2104-home-025", "2104-home-025", "no such piece"),
        ("2104-away-001", "2104-away-001", "belongs to order 2104 line away"),
        ("12-Jan", "12-Jan", "a date of a range"),
        ("-3", "-3", "no such piece"),
        ("1,2", "1,2", "no such piece"),
    ],
)
def test_what_is_wrong_with_a_piece_is_said(text: str, value: str, wrong: str) -> None:
    """A number beyond the line, a backward range, a strange name and a spreadsheet's date are each told apart."""
    pieces, ((found, why, right),) = read_pieces(text, [HOME], NAMES)
    assert pieces == () and found == value and wrong in why and right


def test_numbers_need_one_line() -> None:
    """A number among several lines stands for nothing; names do."""
    assert read_pieces("2104-away-002;2104-home-001", [HOME, AWAY], NAMES) == (("2104-away-002", "2104-home-001"), [])
    (fault,) = read_pieces("3", [HOME, AWAY], NAMES)[1]
    assert "here are 2" in fault[1]
