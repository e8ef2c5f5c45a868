"""The day beside variants of itself: what another press, another person or another hour would change."""
