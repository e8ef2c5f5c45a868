"""What chance decides on each simulated day: factors on times, pieces spoiled. Seeded; zero spreads give the plan."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from models.shop import Spread
from scheduler.likely.hours import Times

Counts = NDArray[np.int64]


class Draws:
    """Random factors for simulated days, each an array of one entry a day; the first day is the plan's, without any.

    `days` counts that one too.
    """

    def __init__(self, spread: Spread, days: int, seed: int) -> None:
        self.spread = spread
        self.days = days + 1
        self._random = np.random.default_rng([seed, 7])

    def hand(self, pieces: int) -> Times:
        """The factor on a hand row over so many pieces: independent pieces, so it strays less by their root."""
        return self.factor(self.spread.hands / math.sqrt(max(1, pieces)))

    def pace(self) -> Times:
        """The factor on everything a person does on that day."""
        return self.factor(self.spread.pace)

    def change(self) -> Times:
        """The factor on a change of setting or a warm-up."""
        return self.factor(self.spread.change)

    def factor(self, variation: float) -> Times:
        """Log-normal with mean 1 and this coefficient of variation (Aitchison and Brown 1957: s2 = ln(1 + cv2))."""
        drawn: Times = np.ones(self.days)
        if variation:
            s2 = math.log1p(variation * variation)
            drawn[1:] = np.exp(self._random.standard_normal(self.days - 1) * math.sqrt(s2) - s2 / 2)
        return drawn

    def spoiled(self, pieces: int) -> Counts:
        """How many blanks of so many pieces are spoiled, those of pieces made again included."""
        share = self.spread.spoil
        total = np.zeros(self.days, dtype=np.int64)
        now = np.full(self.days, pieces, dtype=np.int64)
        now[0] = 0
        while share > 0 and now.any():
            now = self._random.binomial(now, share)
            total += now
        return total

    def shared_out(self, counts: Counts, shares: int) -> list[Counts]:
        """Counts dealt out evenly by chance to so many stages."""
        left, dealt = counts.copy(), []
        for n in range(shares, 1, -1):
            part = self._random.binomial(left, 1 / n)
            dealt.append(part)
            left = left - part
        return [*dealt, left]
