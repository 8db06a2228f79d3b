"""The simulated bench: a device on a pseudo-terminal and the hands that work it."""
