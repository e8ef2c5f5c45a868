"""orders.csv as spreadsheets write it: separators, encodings, quotes, row numbers, headers."""

from __future__ import annotations

import pytest

from scheduler.intake import read_day

HEADER = "order,customer,line,garment,size,quantity,design,ready,due,priority"
ROW = "7,Café Ångström,,market-tee,M,2,stall-chest,,,"
GOOD = f"{HEADER}\n{ROW}\n"


@pytest.fixture
def orders(folder):
    """Write orders.csv, as text or bytes, and leave out names.csv."""
    (folder / "names.csv").unlink()

    def write(content):
        data = content.encode() if isinstance(content, str) else content
        (folder / "orders.csv").write_bytes(data)

    return write


@pytest.mark.parametrize("separator", [",", ";", "\t"])
@pytest.mark.parametrize("newline", ["\n", "\r\n"])
def test_separators_and_line_ends(folder, orders, separator, newline):
    """Comma, semicolon or tab, told by the header line; RFC 4180 ends lines with CRLF."""
    orders(GOOD.replace(",", separator).replace("\n", newline))
    (line,) = read_day(folder).lines
    assert (line.order, line.customer, line.quantity) == ("7", "Café Ångström", 2)


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_encodings(folder, orders, encoding):
    """UTF-8 with or without mark, UTF-16 with mark, and Windows-1252 all give the same customer."""
    orders(GOOD.encode(encoding))
    assert read_day(folder).lines[0].customer == "Café Ångström"


@pytest.mark.parametrize(
    ("data", "wrong"),
    [
        (GOOD.encode("utf-16-le"), "NUL"),
        (GOOD.encode("utf-32"), "NUL"),
        (GOOD.encode("utf-16") + b"x", "encoding"),
        (GOOD.encode("cp1252") + b"\x81\x8d", "encoding"),
        (GOOD.encode() + b"\x00", "NUL"),
        (b"", "empty"),
        (b"\n\n,,,\n", "empty"),
        (HEADER.encode(), "no order"),
    ],
)
def test_what_is_no_table_is_a_problem(orders, only, data, wrong):
    """Bytes that are no text, and files without a table, are named."""
    orders(data)
    assert wrong in only().wrong


def test_a_separator_inside_quotes_belongs_to_the_text(folder, orders):
    """RFC 4180, rules 5 to 7: quoted fields may hold separators, line breaks and doubled quotes."""
    orders(f'{HEADER}\n7,"Fern, ""the"" Grocer\r\nand Sons",,market-tee,M,2,stall-chest,,,\n')
    assert read_day(folder).lines[0].customer == 'Fern, "the" Grocer and Sons'


def test_row_numbers_are_the_spreadsheets(orders, only):
    """A quoted line break makes no new row, and blank rows count."""
    broken = '6,"two\nlines",,market-tee,M,2,stall-chest,,,'
    orders(f"{HEADER}\n{broken}\n\n,,,,,,,,,\n{ROW.replace('M,2', 'M,two')}\n")
    problem = only()
    assert (problem.where, problem.field, problem.value) == ("row 5", "quantity", "two")


def test_blank_rows_are_skipped(folder, orders):
    """Rows without anything in them are no orders."""
    orders(f"\n{HEADER}\n\n{ROW}\n,,,,,,,,,\n   \n")
    assert len(read_day(folder).lines) == 1


def test_headers_forgive_case_and_spaces(folder, orders):
    """ORDER and ' Due ' are the columns they look like."""
    orders(f" ORDER ,Customer,line,Garment , size,QUANTITY,design,ready, Due ,priority\n{ROW}\n")
    assert read_day(folder).lines[0].order == "7"


def test_columns_may_stand_in_any_order_and_blank_ones_be_left_out(folder, orders):
    """Only order, garment, quantity and design must be there."""
    orders("design,quantity,garment,order\nstall-chest,3,market-tee,9\n")
    (line,) = read_day(folder).lines
    assert (line.key, line.quantity, line.due, line.priority) == (("9", "1"), 3, None, 1)


def test_an_unknown_column_gets_the_nearest(orders, only):
    """A misspelt column is an error, with the name it is likely to mean."""
    orders(GOOD.replace(",due,", ",deu,"))
    problem = only()
    assert (problem.where, problem.value) == ("row 1 (header)", "deu")
    assert '"due"' in problem.right


def test_missing_and_double_columns_are_problems(orders, problems):
    """A column that must be there is missed, one that stands twice is named."""
    orders("order,order,garment,design\n1,1,market-tee,stall-chest\n")
    assert [(p.field, p.wrong) for p in problems()] == [
        ("column 2", "this column stands twice"),
        ("quantity", "this column is missing"),
    ]


def test_too_many_cells_are_a_problem(orders, only):
    """A stray separator moves cells beyond the columns: the row says so."""
    orders(GOOD.replace(",,,\n", ",,,,late\n"))
    problem = only()
    assert (problem.where, problem.value) == ("row 2", "late")


def test_empty_cells_beyond_the_columns_do_no_harm(folder, orders):
    """Spreadsheets like to end lines with separators."""
    orders(GOOD.replace("\n", ",,,\n"))
    assert len(read_day(folder).lines) == 1


def test_a_hundred_columns_are_a_problem_each(orders, problems):
    """A table of another kind is refused column by column."""
    orders(HEADER + "".join(f",x{n}" for n in range(90)) + "\n" + ROW + "\n")
    assert len(problems()) == 90


def test_a_quote_that_never_closes_is_found(orders, only):
    """The row where it opens is named."""
    orders(f'{HEADER}\n{ROW}\n8,"Quay,,market-tee,M,2,stall-chest,,,\n{ROW}\n')
    problem = only()
    assert problem.where == "row 3" and "quote" in problem.wrong


@pytest.mark.parametrize("row", [2, 3, 4])
def test_a_quote_that_never_closes_loses_no_row(orders, only, row):
    """Wherever it opens, the rest of the table must not vanish into one cell unnoticed."""
    lines = [HEADER, ROW, ROW.replace("7", "8"), ROW.replace("7", "9")]
    lines[row - 1] = f'"{lines[row - 1]}'
    orders("\n".join(lines))
    assert only().where == f"row {row}"


def test_a_monstrous_cell_is_a_problem(orders, only):
    """A cell of more characters than any sheet holds is named, not dropped."""
    orders(f"{HEADER}\n{ROW}\n{ROW.replace('7', '8').replace('Café', 'C' * 200_000)}\n")
    assert only().where == "row 3"


def test_wide_records_over_several_lines(orders, only):
    """A record whose cells lie on several lines is counted as one."""
    orders(f'{HEADER}\n7,"a\nb",,market-tee,"M\nL",2,stall-chest,,,,,,,late,\n')
    assert only().value == "late"


def test_more_than_twenty_thousand_rows_are_refused(orders, only):
    """A table of that size is no day's."""
    orders(HEADER + "\n" + f"{ROW}\n" * 20_001)
    assert "20000" in only().wrong


def test_text_that_looks_like_nothing_stays_text(folder, orders):
    """NA, null and None are customers like any other."""
    orders(GOOD.replace("Café Ångström", "NA"))
    assert read_day(folder).lines[0].customer == "NA"


def test_a_row_of_hundreds_of_cells_is_a_problem(orders, only):
    """A row far wider than any table is named by its number."""
    orders(f"{HEADER}\n{ROW}\n{'x,' * 500}\n")
    assert (only().where, only().wrong) == ("row 3", "the row holds 501 cells")


def test_hundreds_of_thousands_of_lines_are_refused_unread(orders, only):
    """A file of another kind does not keep anybody waiting."""
    orders(f"{HEADER}\n" + "x\n" * 300_000)
    assert "more than 20000 rows" in only().wrong
