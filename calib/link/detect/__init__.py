"""Finding out what a logger sends, from its bytes alone: rate, layout, clock, kind of numbers."""
