"""Arithmetic on arrays: plateaus, spread, tolerance limits, uncertainty; no I/O."""
