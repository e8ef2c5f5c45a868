"""Drawn examples are the same in every run, and a busy machine fails none of them."""

from __future__ import annotations

from hypothesis import settings

settings.register_profile("pressday", deadline=None, derandomize=True)
settings.load_profile("pressday")
