"""Readers of the reference figures in fixtures/reference."""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

ROOT = Path(__file__).resolve().parents[2] / "fixtures" / "reference"


def table(name: str) -> list[dict[str, str]]:
    """Rows of a CSV table."""
    with (ROOT / name).open(encoding="utf-8") as file:
        return list(csv.DictReader(file))


def document(name: str) -> dict[str, Any]:
    """A JSON table."""
    read: dict[str, Any] = json.loads((ROOT / name).read_text(encoding="utf-8"))
    return read


def strd_rows(name: str) -> NDArray[np.float64]:
    """Data of a NIST reference set; its header says on which line they begin."""
    lines = (ROOT / "statistics" / name).read_text(encoding="utf-8").splitlines()
    if name.endswith(".txt"):
        return np.array([float(line) for line in lines if line.strip()])
    named = [
        int(line.split("lines")[1].split("to")[0])
        for line in lines
        if line.strip().startswith("Data") and "lines" in line
    ]
    # The univariate sets name no lines: their data follow the rule of dashes.
    start = named[0] if named else max(i for i, line in enumerate(lines, 2) if "-----" in line)
    rows = [[float(word) for word in line.split()] for line in lines[start - 1 :] if line.strip()]
    return np.array(rows)
