"""Says whether a tilt-based aid may be trusted, from the evidence on file."""
