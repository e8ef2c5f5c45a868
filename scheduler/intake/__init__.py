"""The intake room: a day folder becomes a Day, or every problem in every file at once."""

from scheduler.intake.begin import write_starter
from scheduler.intake.convert import write_spreadsheet
from scheduler.intake.read import read_day

__all__ = ["read_day", "write_spreadsheet", "write_starter"]
