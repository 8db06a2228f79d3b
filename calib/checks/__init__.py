"""Findings, verdicts, the table of limits with sources, the trust gate."""
