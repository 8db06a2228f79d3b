"""Calibration of hand controls and tilt sensors on a home-built electric two-wheeler."""

__version__ = "0.1.0"
