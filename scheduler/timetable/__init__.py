"""A programme (what each press runs, in order) becomes clock times: every row, to the second, with named people."""
