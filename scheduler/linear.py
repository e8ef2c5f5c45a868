"""Sums for CP-SAT, one place for their types."""

from __future__ import annotations

from collections.abc import Iterable

from ortools.sat.python import cp_model


def total(terms: Iterable[cp_model.LinearExprT]) -> cp_model.LinearExpr:
    """The sum of the terms as a linear expression; 0 for none."""
    return cp_model.LinearExpr.sum(list(terms))
