"""Bounds, seed, CP-SAT model and large neighbourhoods: which press takes what, at which setting, in which order."""
