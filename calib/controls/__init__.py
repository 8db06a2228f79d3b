"""Throttle and lever: travel, dead band, fault window."""
