"""What is kept: the rig file, captures, documents and records."""
