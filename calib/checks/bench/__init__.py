"""Judges the bench check: what the hands got wrong after a rewire."""
