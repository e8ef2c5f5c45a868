"""The rules again, written apart: a plan checked on its written files alone.

Nothing here shares code with the breakdown, the solver or the timetable; only the models are common.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from models.day import Day
from models.plan import Row
from scheduler.audit.day_log import Continued
from scheduler.audit.figures import Figures, measure
from scheduler.audit.finding import Finding, capped
from scheduler.audit.rules import broken

__all__ = ["Continued", "Figures", "Finding", "audit_folder", "audit_rows", "measure"]


def audit_rows(day: Day, rows: Sequence[Row], continued: Continued | None = None) -> list[Finding]:
    """Every breach of contract section 3 in a timetable; at most 200 and one that counts the rest.

    `continued`: of a plan made again, the moment, the log and the rows of the plan before.
    """
    return capped(broken(day, rows, continued))


def audit_folder(folder: Path) -> list[Finding]:
    """Every breach in a folder's written plan: its timetable, finish.csv and plan.json.

    Unreadable input or plan files are findings too, with file, row and column.
    """
    from scheduler.audit.ledger import folder_findings

    return capped(folder_findings(folder))
