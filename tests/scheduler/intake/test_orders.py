"""Rows of orders.csv and names.csv: lines, numbers, times, names that collide."""

from __future__ import annotations

from datetime import datetime

import pytest

from scheduler.intake import read_day
from scheduler.intake.orders import line_names
from scheduler.intake.tables import Row

HEADER = "order,customer,line,garment,size,quantity,design,ready,due,priority"


@pytest.fixture
def orders(folder):
    """Write orders.csv from rows of (order, line, quantity, ready, due, priority, customer)."""
    (folder / "names.csv").unlink()

    def write(*rows):
        lines = [HEADER]
        for given in rows:
            cell = {"order": "A", "quantity": "2"} | given
            get = lambda key, cell=cell: cell.get(key, "")  # noqa: E731
            tail = f"{get('ready')},{get('due')},{get('priority')}"
            head = f"{get('order')},{get('customer')},{get('line')}"
            lines.append(f"{head},market-tee,{get('size')},{get('quantity')},stall-chest,{tail}")
        (folder / "orders.csv").write_text("\n".join(lines), encoding="utf-8")

    return write


@pytest.mark.parametrize(
    ("written", "names"),
    [
        ([("A", ""), ("B", ""), ("A", "")], ["1", "1", "2"]),
        ([("A", ""), ("A", "1"), ("A", "")], ["2", "1", "3"]),
        ([("A", "2"), ("A", ""), ("A", "")], ["2", "1", "3"]),
        ([("A", "front"), ("A", "")], ["front", "1"]),
    ],
)
def test_blank_lines_are_numbered_within_their_order(written, names):
    """1, 2, … in file order within the order, never a number that is given."""
    rows = [Row(n, {"order": order, "line": line}) for n, (order, line) in enumerate(written, 2)]
    assert line_names(rows) == names


@pytest.mark.parametrize(("cell", "quantity"), [("24", 24), ("24.0", 24), (" 24 ", 24), ("100000", 100_000)])
def test_quantities(folder, orders, cell, quantity):
    """Whole numbers, also as spreadsheets write them."""
    orders({"quantity": cell})
    assert read_day(folder).lines[0].quantity == quantity


@pytest.mark.parametrize(
    "cell", ["24.5", "0", "-3", "1_000", "1e2", "", "two", "100001", "9" * 5000, "٣", "nan", "0x10"]
)
def test_what_is_no_quantity(orders, problems, cell):
    """Fractions, zero, text and absurd numbers are problems of that cell."""
    orders({"quantity": cell})
    assert [(p.where, p.field) for p in problems()] == [("row 2", "quantity")]


@pytest.mark.parametrize(
    "cell", ["2026-12-01 8:00", "2026-12-01T08:00", "2026-12-01 08:00:00", "2026-12-1T8:00:00.000"]
)
def test_times(folder, orders, cell):
    """Blank or T between date and time, with seconds or without."""
    orders({"due": cell})
    assert read_day(folder).lines[0].due == datetime(2026, 12, 1, 8, 0)


@pytest.mark.parametrize(
    "cell", ["2026-12-01", "01/12/2026 08:00", "2026-02-30 08:00", "2026-12-01T08:00Z", "2026-12-01 25:00", "soon"]
)
def test_what_is_no_time(orders, only, cell):
    """Other notations, zones and days that do not exist are problems of that cell."""
    orders({"due": cell})
    assert (only().where, only().field, only().value) == ("row 2", "due", cell)
    assert "2026-" in only().right


def test_a_day_alone_keeps_its_day_in_the_advice(orders, only):
    """What would be right is the same day with a time."""
    orders({"due": "2027-01-05"})
    assert "2027-01-05T17:00" in only().right


def test_due_before_ready_is_a_problem(orders, only):
    """Garments that come after the order is due are a slip."""
    orders({"ready": "2026-12-02T08:00", "due": "2026-12-01T08:00"})
    assert only().field == "due" and "ready" in only().wrong


def test_an_order_may_be_late_from_the_start(folder, orders):
    """A due time long past is no error."""
    orders({"due": "2020-01-01T08:00"})
    assert read_day(folder).lines[0].due == datetime(2020, 1, 1, 8)


def test_a_decimal_comma_is_explained(orders, only):
    """1,5 is told to be written 1.5."""
    orders({"priority": '"1,5"'})
    assert "1.5" in only().right and "comma" in only().wrong


@pytest.mark.parametrize("cell", ["0", "-1", "1001", "nan", "inf", "high", "1e3"])
def test_what_is_no_priority(orders, only, cell):
    """Priorities lie above 0 and at most 1000."""
    orders({"priority": cell})
    assert only().field == "priority"


def test_the_same_line_twice_is_a_problem(orders, only):
    """(order, line) stands once, whatever its case."""
    orders({"line": "a"}, {"line": "A"})
    assert (only().where, only().field) == ("row 3", "line") and "row 2" in only().wrong


def test_one_order_is_spelt_one_way(orders, only):
    """ab and AB would be mixed up."""
    orders({"order": "ab"}, {"order": "AB", "line": "7"})
    assert (only().where, only().field) == ("row 3", "order") and "row 2" in only().wrong


def test_piece_names_are_unique_over_the_day(orders, only):
    """Order A-1 line 2 and order A line 1-2 would both have a piece A-1-2-001."""
    orders({"order": "A-1", "line": "2"}, {"order": "A", "line": "1-2"})
    assert "A-1-2-001" in only().wrong and "row 2" in only().wrong


def test_dashes_that_lead_to_no_confusion_are_fine(folder, orders):
    """Names with dashes are usual; every piece still has a name of its own."""
    orders({"order": "A-1"}, {"order": "A-2"}, {"order": "A", "line": "3"})
    names = [piece for line in read_day(folder).lines for piece in line.pieces]
    assert len(names) == len(set(names)) == 6


def test_more_than_a_hundred_thousand_pieces_are_refused(orders, only):
    """The whole day's pieces are counted."""
    orders({"quantity": "60000"}, {"quantity": "60000"})
    assert only().value == "120000"


@pytest.mark.parametrize("start", "=+-@")
@pytest.mark.parametrize("field", ["order", "line"])
def test_ids_are_no_formulas(orders, only, start, field):
    """An order that a spreadsheet would take for a formula is refused."""
    orders({field: f"{start}1"})
    assert only().field == field and "formula" in only().wrong


@pytest.mark.parametrize("customer", ["=SUM(A1)", "+44 7000", "-", "@home", "José Ñ", "李", "می‌خواهم", "👩‍🎨"])
def test_customers_may_be_anything_that_prints(folder, orders, customer):
    """Free text is kept as it stands."""
    orders({"customer": customer})
    assert read_day(folder).lines[0].customer == customer


@pytest.mark.parametrize("customer", ["a\x1b[31mb", "a\u202eb", "a\x07"])
def test_characters_that_steer_a_terminal_are_refused(orders, only, customer):
    """Escape codes and characters that turn the line round are shown escaped."""
    orders({"customer": customer})
    assert only().field == "customer" and only().value.isprintable()


def test_a_row_may_have_several_problems(orders, problems):
    """Every wrong cell of a row is named."""
    orders({"order": "", "quantity": "x", "priority": "y", "due": "z"})
    assert sorted(p.field for p in problems()) == ["due", "order", "priority", "quantity"]


def test_names_rows_are_checked(folder, edit, problems):
    """Unknown order, line and piece, a piece twice, and a row with nothing to cut."""
    rows = "1009,1,1,X,1\n1002,2,1,X,1\n1002,1,6,X,1\n1002,1,5,X,1\n1002,1,1.5,X,1\n1001,1,1,,\n"
    with (folder / "names.csv").open("a") as stream:
        stream.write(rows)
    found = [(p.where, p.field) for p in problems()]
    assert found == [
        ("row 7", "order"),
        ("row 8", "line"),
        ("row 9", "piece"),
        ("row 10", "piece"),
        ("row 11", "piece"),
        ("row 12", "name"),
    ]


def test_names_may_be_anything_that_prints(folder, edit):
    """A name on a shirt is no id."""
    edit("names.csv", "OKAFOR,4", '"=O\'Neil, ""Jr""",+4')
    row = read_day(folder).names[0]
    assert (row.name, row.number) == ('=O\'Neil, "Jr"', "+4")


def test_a_blank_line_in_names_is_asked_for(edit, problems):
    """names.csv says which line it means, as orders.csv has it."""
    edit("names.csv", "1002,1,1", "1002,,1")
    problem = next(p for p in problems() if p.field == "line")
    assert problem.where == "row 2" and "as the table of orders has it" in problem.right
