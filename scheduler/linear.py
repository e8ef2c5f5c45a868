"""What every use of CP-SAT shares: sums with their types, and a solver."""

from __future__ import annotations

from collections.abc import Iterable

from ortools.sat.python import cp_model


def total(terms: Iterable[cp_model.LinearExprT]) -> cp_model.LinearExpr:
    """The sum of the terms as a linear expression; 0 for none."""
    return cp_model.LinearExpr.sum(list(terms))


def new_solver() -> cp_model.CpSolver:
    """A solver that leaves interrupts to Python: by default it takes the first one as its own and then unsets Python's
    handler, so that a command goes on, or dies without a word."""
    solver = cp_model.CpSolver()
    solver.parameters.catch_sigint_signal = False
    return solver
