"""Judges the tilt sensor: zero, sign, surge, noise and drift, truing by poses."""
