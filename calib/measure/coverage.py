"""What every ± on a page, sheet and record covers."""

from __future__ import annotations

COVERAGE = 0.95
"""Coverage probability of every expanded uncertainty; own choice, because it is the usual one."""

KNOWN_FACTOR = 1.959964
"""Coverage factor where the degrees of freedom are infinite. Source: JCGM 100, table G.2."""
