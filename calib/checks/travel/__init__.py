"""Judges a control and the scale that its volts rest on."""
