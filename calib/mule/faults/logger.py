"""Faults of the logger itself: frozen, clipped, copied or bit-stuck readings, lost lines."""

from __future__ import annotations

from dataclasses import replace
from typing import Any, Final

import numpy as np

from calib.mule.bench import ANALOG, CONTROLS, Bench
from calib.mule.faults.kind import Fault, on_bench


def _logger(bench: Bench, **figures: Any) -> Bench:
    return replace(bench, logger=replace(bench.logger, **figures))


def _span_v(bench: Bench, name: str) -> tuple[float, float]:
    """Volts of a control at rest and at its stop."""
    ends = bench.control(name).hall.share(np.array([0.0, 1.0])) * bench.rail.volts
    return float(ends[0]), float(ends[1])


def _frozen(bench: Bench, target: str, severity: int) -> Bench:
    from_s = (0.0, 3.0, 8.0, 14.0, 25.0)[severity - 1]
    return _logger(bench, frozen_from_s=((target, from_s),))


def _clipping(bench: Bench, target: str, severity: int) -> Bench:
    """A reference so low that the top of the travel lies beyond the last code."""
    share = (0.6, 0.75, 0.87, 0.95, 0.985)[severity - 1]
    top_v = max(_span_v(bench, target))
    return _logger(bench, converter=replace(bench.logger.converter, reference_v=share * top_v))


def _ceiling(bench: Bench, target: str, severity: int) -> Bench:
    """An input stage that runs out before the converter does."""
    share = (0.5, 0.7, 0.82, 0.91, 0.96)[severity - 1]
    low_v, high_v = sorted(_span_v(bench, target))
    return _logger(bench, ceilings=((target, low_v + share * (high_v - low_v)),))


def _reference_off(bench: Bench, severity: int) -> Bench:
    factor = (0.86, 0.92, 0.95, 0.97, 0.985)[severity - 1]
    return _logger(bench, converter=replace(bench.logger.converter, reference_v=5.0 * factor))


def _copied(bench: Bench, target: str, severity: int) -> Bench:
    del severity
    before = ANALOG[(ANALOG.index(target) - 1) % len(ANALOG)]
    return _logger(bench, copies=((target, before),))


def _stuck_bit(bench: Bench, target: str, severity: int) -> Bench:
    bits = bench.logger.converter.codes.bit_length() - 1
    return _logger(bench, stuck_bits=((target, bits - 1 - severity, severity % 2),))


def _missed(bench: Bench, severity: int) -> Bench:
    share = (0.2, 0.1, 0.05, 0.02, 0.005)[severity - 1]
    return _logger(bench, missed_share=share, missed_run=2)


def _jumps(bench: Bench, severity: int) -> Bench:
    by_s = (60.0, 10.0, 3.0, 1.0, 0.3)[severity - 1]
    return _logger(bench, clock_jumps_s=((9.0, by_s), (21.0, -0.6 * by_s)))


def _twice(bench: Bench, severity: int) -> Bench:
    return _logger(bench, sent_twice_share=(1.0, 0.5, 0.2, 0.05, 0.02)[severity - 1])


def _stale(bench: Bench, severity: int) -> Bench:
    del severity
    return _logger(bench, measured_every=2)


def _columns_off(bench: Bench, severity: int) -> Bench:
    """A column put in front of the others, or behind them."""
    return _logger(bench, columns_off=(1, -1, 2, -2, 1)[severity - 1])


def _shifted(bench: Bench, severity: int) -> Bench:
    return _logger(bench, shifted_bits=(6, 4, 3, 2, 1)[severity - 1])


def _millivolts(bench: Bench, severity: int) -> Bench:
    del severity
    return _logger(bench, in_millivolts=True)


FAULTS: Final[dict[str, Fault]] = {
    "value-frozen": Fault("a reading stands still for good", _frozen, (*CONTROLS, "pitch")),
    "adc-clipping": Fault("top of the travel beyond the last code", _clipping, CONTROLS),
    "input-ceiling": Fault("top of the travel flattened by the input", _ceiling, CONTROLS),
    "reference-off": Fault(
        "the converter's reference is not what it should be", on_bench(_reference_off), ("rail",)
    ),
    "multiplexer-stuck": Fault(
        "a channel shows the one before it", _copied, ("regen", "rail"), graded=False
    ),
    "bit-stuck": Fault("one bit of a channel never changes", _stuck_bit, CONTROLS),
    "samples-missed": Fault("lines are lost on the way", on_bench(_missed), ("logger",)),
    "time-jumps": Fault("the logger's clock jumps", on_bench(_jumps), ("logger",)),
    "samples-twice": Fault("lines are sent a second time", on_bench(_twice), ("logger",)),
    "samples-stale": Fault(
        "every measurement is sent twice", on_bench(_stale), ("logger",), graded=False
    ),
    "columns-off": Fault(
        "all columns stand off", on_bench(_columns_off), ("logger",), graded=False
    ),
    "codes-shifted": Fault("codes shifted by bits", on_bench(_shifted), ("logger",)),
    "unit-millivolts": Fault(
        "millivolts instead of codes", on_bench(_millivolts), ("logger",), graded=False
    ),
}
