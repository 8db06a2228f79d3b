"""Whether turning, rolling and a display say how many pulses a turn gives and how far it goes."""
