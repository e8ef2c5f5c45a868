"""The logbook room: log.csv read, checked and added to, and where things stand at a moment."""

from scheduler.logbook.book import append, append_cells, read_log
from scheduler.logbook.state import State, state_at

__all__ = ["State", "append", "append_cells", "read_log", "state_at"]
