"""The simulated bench: a logger on a pseudo-terminal, the hands that work it, and its faults.

It is written from what circuits, springs and gravity do. It imports nothing of the analysis and
shares no constant with it, so that a finding on the simulated bench is evidence of something.
"""
