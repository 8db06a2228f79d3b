"""The computer's clock as a test sets it, zone and all."""

from __future__ import annotations

import time
from datetime import datetime, timedelta, tzinfo

import pytest

from calib.cli import flow


class FakeClock:
    """Stands still unless it is set or moved on."""

    def __init__(self, patch: pytest.MonkeyPatch, at: datetime) -> None:
        """Take the place of the clock that the commands read."""
        self.at = at
        fake = self

        class Stopped(datetime):
            @classmethod
            def now(cls, tz: tzinfo | None = None) -> datetime:  # type: ignore[override]
                return fake.at.astimezone(tz)

        self._patch = patch
        patch.setattr(flow, "datetime", Stopped)

    def pass_by(self, **span: float) -> None:
        """Let time pass, or with a minus sign set the clock back."""
        self.at += timedelta(**span)

    def live_in(self, zone: str) -> None:
        """Take the computer to a zone, as POSIX writes it: ``CET-1CEST,M3.5.0,M10.5.0/3``."""
        self._patch.setenv("TZ", zone)
        time.tzset()
