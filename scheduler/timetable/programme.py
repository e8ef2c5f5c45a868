"""What each press runs, in order: the plan before it has clock times."""

from __future__ import annotations

from dataclasses import dataclass

from scheduler.instance import Setting


@dataclass(frozen=True, slots=True)
class Block:
    """So many pieces of one task, run one loading after another."""

    task: int
    pieces: int


@dataclass(frozen=True, slots=True)
class Stretch:
    """Blocks run at one setting on one press; a campaign before it has clock times."""

    setting: Setting
    blocks: tuple[Block, ...]


Programme = tuple[tuple[Stretch, ...], ...]  # a tuple of stretches for each press
