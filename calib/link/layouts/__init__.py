"""Layouts: how a logger writes its samples as text. One module each, behind one protocol."""
