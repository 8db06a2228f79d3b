from __future__ import annotations

from pathlib import Path

import pytest

from calib.errors import (
    CalibError,
    NoDataError,
    PortError,
    RigError,
    StoppedError,
    UsageError,
)


@pytest.mark.parametrize(
    ("kind", "code"),
    [(UsageError, 2), (RigError, 2), (NoDataError, 3), (PortError, 3), (StoppedError, 130)],
)
def test_every_kind_of_error_has_the_exit_code_of_the_contract(
    kind: type[CalibError], code: int
) -> None:
    """Scripts tell wrong use, no data and a stop apart by the exit code."""
    error = kind("0.3 V was seen.", "Look at the plug.", capture=Path("x.csv"))
    assert error.exit_code == code
    assert str(error) == "0.3 V was seen. Look at the plug."
    assert error.capture == Path("x.csv")
