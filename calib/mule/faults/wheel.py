"""Faults of a wheel's magnets and sensor; they strike only a bench that has one."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Final

from calib.errors import UsageError
from calib.mule.bench import Bench
from calib.mule.faults.kind import Fault, on_bench
from calib.mule.wheel import Ring, Wheel

_WRAPS: Final = (64, 128, 256, 1024, 4096)
_MISSED: Final = (1.0, 0.5, 0.3, 0.2, 0.1)
_WIDTHS: Final = (0.2, 0.3, 0.4, 0.5, 0.6)
_BOUNCES_S: Final = (3.0e-3, 2.0e-3, 1.0e-3, 0.6e-3, 0.3e-3)


def _ringed(change: Callable[[Ring, int], Ring]) -> Callable[[Bench, str, int], Bench]:
    """Lift a change of the ring to the bench."""
    return _wheeled(lambda wheel, severity: replace(wheel, ring=change(wheel.ring, severity)))


def _wheeled(change: Callable[[Wheel, int], Wheel]) -> Callable[[Bench, str, int], Bench]:
    """Lift a change of the wheel to the bench."""

    def lifted(bench: Bench, severity: int) -> Bench:
        if bench.wheel is None:
            raise UsageError("This bench has no wheel sensor.", "Give it one with --wheel.")
        return replace(bench, wheel=change(bench.wheel, severity))

    return on_bench(lifted)


def _missed(ring: Ring, severity: int) -> Ring:
    share = list(ring.missed_share)
    share[len(share) // 2] = _MISSED[severity - 1]
    return replace(ring, missed_share=tuple(share))


def _weak(ring: Ring, severity: int) -> Ring:
    width = list(ring.width_turns)
    width[len(width) // 2] *= _WIDTHS[severity - 1]
    return replace(ring, width_turns=tuple(width))


def _wraps(wheel: Wheel, severity: int) -> Wheel:
    return replace(wheel, unit="pulses", wrap=_WRAPS[severity - 1])


FAULTS: Final[dict[str, Fault]] = {
    "magnet-missing": Fault(
        "a magnet is gone, or seen only now and then", _ringed(_missed), ("wheel",)
    ),
    "magnet-weak": Fault("a magnet has lost its strength", _ringed(_weak), ("wheel",)),
    "pulses-double": Fault(
        "a reed closes at either pole of each magnet",
        _ringed(lambda ring, _: replace(ring, lobes=2)), ("wheel",), graded=False,
    ),
    "reed-bounces": Fault(
        "a reed chatters at each change",
        _ringed(lambda ring, severity: replace(ring, bounce_s=_BOUNCES_S[severity - 1])),
        ("wheel",),
    ),
    "level-stuck": Fault(
        "the level never falls", _ringed(lambda ring, _: replace(ring, stuck=True)), ("wheel",),
        graded=False,
    ),
    "turned-back": Fault(
        "the hands turn the wheel the wrong way",
        _wheeled(lambda wheel, _: replace(wheel, turned_back=True, both_ways=True)), ("wheel",),
        graded=False,
    ),
    "count-wraps": Fault("the count starts again early", _wheeled(_wraps), ("wheel",)),
}  # fmt: skip
