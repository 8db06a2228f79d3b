"""The wheel: pulses a turn, the way a turn rolls, and what a display makes of both."""
