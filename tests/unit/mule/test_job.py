from __future__ import annotations

from calib.mule.bench import draw_bench
from calib.mule.job import Meter
from calib.mule.stage import Stage


def test_a_voltage_that_is_set_again_is_written_down_once() -> None:
    """On a slow computer the same one is asked for twice; the readings stay in their order."""
    stage, meter = Stage(draw_bench(3)), Meter("throttle", 1)
    for position in (0.5, 0.5, 1.0, 0.0, 0.0):
        stage.hold("throttle", position, 0.2)
        meter.note(stage)
    readings = [float(meter.read_out()) for _ in range(3)]
    assert readings[2] < readings[0] < readings[1]
