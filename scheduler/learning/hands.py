"""Hand times and paces from stretches of known composition: robust least squares, with what cannot be told apart kept
together.

A stretch less its dwells is the sum of hand rows, each its written time times two factors: one of its kind, one of
the person. Factors are found by least squares with Huber's weights (Huber 1964, tuning constant 1.345), their
standard errors from the residuals themselves (Huber 1967, the sandwich). Kinds whose share in the stretches never
differs cannot be told apart and get one factor together.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from scheduler.learning.ticks import Column, Stretch

Array = NDArray[np.float64]

FEWEST = 15  # stretches, below which nothing is said
_FEWEST_OF = 8  # stretches a group of kinds or a person must stand in
_TELL_APART = 0.10  # groups whose factors would be less certain than that (one standard error) go together
_HUBER, _FAR = 1.345, 4.0
_Z = 1.96


@dataclass(frozen=True, slots=True)
class Factor:
    """What a written time or pace is to be multiplied by; `low` and `high` bound it in 95 of 100 cases."""

    value: float
    low: float
    high: float
    seen: int

    @property
    def differs(self) -> bool:
        """Whether what is written lies outside."""
        return not self.low <= 1 <= self.high


@dataclass(frozen=True)
class Learnt:
    """Factors of groups of kinds of hand rows, and of people, where there is enough to say it."""

    kinds: dict[tuple[Column, ...], Factor]
    people: dict[str, Factor]
    used: int
    left_out: int
    thin: tuple[str, ...] = ()


def learn_hands(stretches: Sequence[Stretch], paces: dict[str, float], pace_spread: float) -> Learnt:
    """Factors from the stretches of one day. `paces` are the written ones; `pace_spread` how far a person's pace
    differs between days (coefficient of variation): one day cannot tell more, so it is part of the uncertainty."""
    possible = [s for s in stretches if s.seconds >= s.closed]
    if len(possible) < FEWEST:
        return Learnt({}, {}, 0, len(stretches), (f"hand times: {len(possible)} stretches, {FEWEST} are wanted",))
    table = _Table(possible, paces)
    kept = table.plausible()
    groups = table.groups(kept)
    people, few = table.people(kept)
    fit = table.fit(kept, groups, people)
    spread = table.errors(kept, groups, people, fit)
    kinds = {}
    for n, group in enumerate(groups):
        seen = int(table.within(kept, group))
        if seen >= _FEWEST_OF:
            kinds[tuple(table.columns[c] for c in group)] = _factor(fit[n], spread[n], pace_spread, seen)
    told = {}
    for n, person in enumerate(people if len(people) > 1 else []):
        at = len(groups) + n
        told[person] = _factor(fit[at], spread[at], pace_spread, table.by(kept, person))
    return Learnt(kinds, told, len(kept), len(stretches) - len(kept), tuple(few))


def _factor(value: float, error: float, pace_spread: float, seen: int) -> Factor:
    half = _Z * float(np.hypot(error, pace_spread * value))
    return Factor(float(value), float(value) - half, float(value) + half, seen)


class _Table:
    """The stretches as arrays: `work[k, c, p]` seconds of kind c by person p at written times and paces."""

    def __init__(self, stretches: Sequence[Stretch], paces: dict[str, float]) -> None:
        self.columns = sorted({column for s in stretches for column, _ in s.hands})
        self.names = sorted({person for s in stretches for _, person in s.hands})
        self.work = np.zeros((len(stretches), len(self.columns), len(self.names)))
        for k, s in enumerate(stretches):
            for (column, person), seconds in s.hands.items():
                place = k, self.columns.index(column), self.names.index(person)
                self.work[place] += seconds * paces.get(person, 1.0)
        self.seconds = np.array([s.seconds - s.closed for s in stretches])
        self.scale = np.sqrt(
            (self.work**2).sum(axis=(1, 2)) + 1.0
        )  # rows stray by a share of their length; ticks by 1 s

    def plausible(self) -> NDArray[np.intp]:
        """The stretches that are no stops, pauses or forgotten lines: ratios within the bulk of them."""
        total = self.work.sum(axis=(1, 2))
        ratio = self.seconds / np.maximum(total, 1.0)
        middle = float(np.median(ratio))
        off = (ratio - middle) * total / self.scale
        bulk = 1.4826 * float(np.median(np.abs(off))) or 1.0
        return np.flatnonzero(np.abs(off) <= _FAR * bulk)

    def within(self, rows: NDArray[np.intp], group: Sequence[int]) -> int:
        """In how many stretches a group stands."""
        return int((self.work[rows][:, list(group)].sum(axis=(1, 2)) > 0).sum())

    def by(self, rows: NDArray[np.intp], person: str) -> int:
        """In how many stretches a person has a hand row."""
        return int((self.work[rows][:, :, self.names.index(person)].sum(axis=1) > 0).sum())

    def people(self, rows: NDArray[np.intp]) -> tuple[list[str], list[str]]:
        """The people who stand in enough stretches, and a sentence on each other one."""
        enough = [p for p in self.names if self.by(rows, p) >= _FEWEST_OF]
        few = [
            f"pace of {p}: {self.by(rows, p)} stretches with them, {_FEWEST_OF} are wanted"
            for p in self.names
            if p not in enough
        ]
        return enough, few

    def groups(self, rows: NDArray[np.intp]) -> list[list[int]]:
        """Kinds of hand rows, those that the stretches cannot tell apart together."""
        groups = [[c] for c in range(len(self.columns)) if self.within(rows, [c])]
        while len(groups) > 1:
            design = self._design(rows, groups) / self.scale[rows][:, None]
            lengths = np.linalg.norm(design, axis=0)
            errors = self._errors(design, rows, groups)
            few = [self.within(rows, g) < _FEWEST_OF for g in groups]
            worst = int(np.argmax(np.where(few, np.inf, errors)))
            if not few[worst] and errors[worst] <= _TELL_APART:
                break
            alike = (design.T @ design)[worst] / (lengths * lengths[worst])
            alike[worst] = -np.inf
            other = int(np.argmax(alike))
            groups[other] = sorted(groups[other] + groups[worst])
            del groups[worst]
        return groups

    def _errors(self, design: Array, rows: NDArray[np.intp], groups: Sequence[Sequence[int]]) -> Array:
        """Standard errors of the groups' factors by ordinary least squares; infinite where nothing tells them."""
        target = self.seconds[rows] / self.scale[rows]
        gram = design.T @ design
        if np.linalg.cond(gram) > 1e8:
            vectors = np.linalg.eigh(gram)[1][:, 0]
            return np.where(np.abs(vectors) > 0.1, np.inf, 0.0)
        solved = np.linalg.solve(gram, design.T @ target)
        sigma = 1.4826 * float(np.median(np.abs(target - design @ solved)))
        errors: Array = sigma * np.sqrt(np.diag(np.linalg.inv(gram)))
        return errors

    def errors(
        self, rows: NDArray[np.intp], groups: Sequence[Sequence[int]], people: Sequence[str], fit: Array
    ) -> Array:
        """Standard errors of what `fit` found, the people's mean held at 1."""
        at = [self.names.index(p) for p in people]
        kinds, paces = np.ones(len(self.columns)), np.ones(len(self.names))
        for n, group in enumerate(groups):
            kinds[list(group)] = fit[n]
        paces[at] = fit[len(groups) :]
        scale = self.scale[rows]
        each = np.einsum("kcp,c->kp", self.work[rows], kinds)
        slopes = np.column_stack([self._design(rows, groups, paces), each[:, at]]) / scale[:, None]
        left = (self.seconds[rows] - each @ paces) / scale
        bulk = _HUBER * (1.4826 * float(np.median(np.abs(left))) or 1.0)
        share = self.work[rows].sum(axis=(0, 1))[at]
        held = np.concatenate([np.zeros(len(groups)), share / share.sum()]) * 1e3
        bread = np.linalg.pinv((slopes * (np.abs(left) <= bulk)[:, None]).T @ slopes + np.outer(held, held))
        meat = (slopes * (np.clip(left, -bulk, bulk) ** 2)[:, None]).T @ slopes
        free = len(rows) / max(1, len(rows) - len(fit))
        errors: Array = np.sqrt(np.maximum(0.0, np.diag(bread @ meat @ bread)) * free)
        return errors

    def _design(self, rows: NDArray[np.intp], groups: Sequence[Sequence[int]], factors: Array | None = None) -> Array:
        work = self.work[rows]
        each = work.sum(axis=2) if factors is None else work @ factors
        return np.column_stack([each[:, list(g)].sum(axis=1) for g in groups])

    def fit(
        self, rows: NDArray[np.intp], groups: Sequence[Sequence[int]], people: Sequence[str], rounds: int = 12
    ) -> Array:
        """Factors of the groups, then of the people, whose mean by hand seconds is 1; in turn until they rest."""
        paces = np.ones(len(self.names))
        kinds = np.ones(len(self.columns))
        found = np.ones(len(groups))
        at = [self.names.index(p) for p in people]
        share = self.work[rows].sum(axis=(0, 1))
        for _ in range(rounds if len(at) > 1 else 1):
            found = self._solve(rows, self._design(rows, groups, paces))
            for n, group in enumerate(groups):
                kinds[group] = found[n]
            if len(at) > 1:
                paces = self._paces(rows, kinds, at, share)
        return np.concatenate([found, paces[at]])

    def _paces(self, rows: NDArray[np.intp], kinds: Array, at: Sequence[int], share: Array) -> Array:
        each = np.einsum("kcp,c->kp", self.work[rows], kinds)
        others = [p for p in range(len(self.names)) if p not in at]
        rest = each[:, others].sum(axis=1)
        own = self._solve(rows, each[:, list(at)], rest)
        mean = float((own * share[list(at)]).sum() / share[list(at)].sum())
        paces = np.ones(len(self.names))
        paces[list(at)] = own / mean
        return paces

    def _solve(self, rows: NDArray[np.intp], design: Array, known: Array | float = 0.0) -> Array:
        """Least squares with Huber's weights."""
        scale = self.scale[rows]
        x, y = design / scale[:, None], (self.seconds[rows] - known) / scale
        weights = np.ones(len(y))
        solved = np.ones(x.shape[1])
        for _ in range(5):
            root = np.sqrt(weights)
            solved = np.linalg.lstsq(x * root[:, None], y * root, rcond=None)[0]
            left = np.abs(y - x @ solved)
            bulk = _HUBER * (1.4826 * float(np.median(left)) or 1.0)
            weights = np.minimum(1.0, bulk / np.maximum(left, 1e-9))
        return solved
