"""A wheel sensor in the bench check: nobody turns the wheel, so nothing may come of it."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from calib.checks.bench.signals import Signal
from calib.checks.limits import limit
from calib.store.documents import said
from calib.store.documents.finding import Finding
from calib.wheel.counting import is_high, unwrapped


def standing_findings(signal: Signal) -> Iterator[Finding]:
    """Pulses that come all the same. Source: limit ``wheel_standing_pulses``."""
    if signal.unit == "pulses":
        steps = np.diff(unwrapped(signal.raw, signal.channel.wrap))
        pulses = int(np.abs(steps).sum())
    else:
        high = is_high(signal.raw)
        pulses = 0 if high is None else int(np.count_nonzero(high[1:] & ~high[:-1]))
    most = limit("wheel_standing_pulses", signal.channel)
    if pulses > most:
        yield said.caution("pulses-standing", float(pulses), most, channel=signal.name)
