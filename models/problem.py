"""What can be wrong with what a person wrote, and why a day may have no plan."""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong: where it stands, what was found, what is wrong and what would be right."""

    file: str
    where: str
    field: str
    value: str
    wrong: str
    right: str

    def __str__(self) -> str:
        place = ", ".join(part for part in (self.file, self.where, self.field) if part)
        found = f" = {self.value}" if self.value else ""
        return f"{place}{found}: {self.wrong}. {self.right}".rstrip()


def in_plain_words(message: str) -> str:
    """A message of pydantic's without its own way of speaking."""
    for found, plain in _PLAIN:
        message = re.sub(found, plain, message)
    return message


_PLAIN = (
    (r"^Value error, ", ""),
    (r"\ba valid integer(, unable to parse.*)?", "a whole number"),
    (r"\ba valid (?=\w)", "a "),
    (r", unable to parse string as a number", ""),
    (r"greater than or equal to (?=\S)", "at least "),
    (r"less than or equal to (?=\S)", "at most "),
    (r"\b([Ii])nput should\b", "this must"),
)


class BadInput(Exception):
    """The folder is wrong; carries every problem found (exit code 1)."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(str(problem) for problem in problems))


class NoPlan(Exception):
    """The folder is sound but nothing can be planned from it; reasons in the shop's words (exit code 3)."""

    def __init__(self, reasons: Sequence[str]) -> None:
        self.reasons = tuple(reasons)
        super().__init__("\n".join(reasons))


class Faulted(Exception):
    """A plan breaks a rule by its own audit, so that it may not be written (exit code 4)."""

    def __init__(self, reasons: Sequence[str]) -> None:
        self.reasons = tuple(reasons)
        super().__init__("\n".join(reasons))
