"""The procedures: what to ask of the person, and when enough is captured."""
