"""Making a rig file: from what was heard, what the person said and what the file said before."""
