"""What this logger cannot see at its rate, said before anything is judged."""

from __future__ import annotations

from calib.checks.bench.noise import MAINS_HZ, UNSEEN_HZ, alias_hz
from calib.checks.bench.signals import Signals
from calib.checks.limits import limit_of_all

SAMPLES_OF_BOUNCE = 3.0
"""Readings that must fall into a chatter for it to be seen; own choice: with one it is luck."""

SHORTEST_DROP_OUT_S = 0.01
"""Own choice: a contact that opens for less is seldom felt at the wheel."""


def unseen_mains_hz(rate_hz: float) -> tuple[float, ...]:
    """Mains lines that look like a level, or hang on their phase, at this rate, Hz.

    Source: sampling theorem: a multiple of the rate lands on nought, half the rate on its phase.
    """
    return tuple(
        line_hz
        for line_hz in MAINS_HZ
        if alias_hz(line_hz, rate_hz) < UNSEEN_HZ
        or abs(alias_hz(line_hz, rate_hz) - 0.5 * rate_hz) < UNSEEN_HZ
    )


def cannot_see(signals: Signals) -> tuple[str, ...]:
    """What is beyond this logger, one sentence each."""
    rate_hz = signals.rate_hz
    if rate_hz <= 0.0:
        return ("The rate of the readings is not known, so nothing quick can be seen.",)
    said = []
    step_ms = 1000.0 / rate_hz
    switches = [each.channel for each in signals.with_role("switch")]
    bounce_ms = limit_of_all("bounce_ms", switches)
    if switches and step_ms * SAMPLES_OF_BOUNCE > bounce_ms:
        said.append(
            f"At {rate_hz:.4g} Hz a switch's chatter shorter than "
            f"{step_ms * SAMPLES_OF_BOUNCE:.0f} ms can go unseen; it takes "
            f"{1000 * SAMPLES_OF_BOUNCE / bounce_ms:.0f} Hz to judge "
            f"{bounce_ms:g} ms."
        )
    unseen = unseen_mains_hz(rate_hz)
    if unseen:
        lines = ", ".join(f"{line_hz:.0f}" for line_hz in unseen)
        said.append(
            f"At {rate_hz:.4g} Hz mains hum of {lines} Hz looks like a constant level, or depends "
            "on its phase: it may pass unseen."
        )
    if step_ms > 1000.0 * SHORTEST_DROP_OUT_S:
        said.append(
            f"A contact that opens for less than {step_ms:.0f} ms can fall between two readings."
        )
    if signals.with_role("control") and not signals.with_role("supply"):
        said.append("No supply is logged: a moved supply looks like moved controls.")
    return tuple(said)
