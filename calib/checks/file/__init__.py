"""Says how what is on file stands, and what has moved since."""
