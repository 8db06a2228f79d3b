from __future__ import annotations

import numpy as np
import pytest

from calib.mule.circuit import (
    OPEN,
    Converter,
    Hall,
    Node,
    Thermistor,
    Wiring,
    bridged,
    floating,
    sensor_output,
    wire_node,
)

HALL = Hall(rest_share=0.2, full_share=0.8)


def _one(value: float) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    return np.array([value])


def _output(share: float, *, ground_ohm: float = 0.0, supply_ohm: float = 0.0) -> float:
    volts = sensor_output(
        HALL, _one(share), _one(5.0), _one(0.0), _one(ground_ohm), _one(supply_ohm)
    )
    return float(volts[0])


def test_healthy_sensor_is_ratiometric() -> None:
    """With whole wires the output is its share of the supply."""
    assert _output(0.2) == pytest.approx(1.0)
    assert _output(0.8) == pytest.approx(4.0)


def test_lost_ground_reads_near_the_supply_wherever_the_control_is() -> None:
    """Open ground lifts the output into 4.75 to 5 V, as data sheets of Hall sensors state."""
    for share in (0.2, 0.5, 0.8):
        assert 4.75 <= _output(share, ground_ohm=OPEN) <= 5.0


def test_lost_supply_reads_near_ground() -> None:
    """Open supply leaves the output within 0 to 0.25 V, as data sheets of Hall sensors state."""
    assert 0.0 <= _output(0.8, supply_ohm=OPEN) <= 0.25


def test_corroded_ground_lifts_rest_by_current_times_ohms() -> None:
    """8 mA through 10 ohm lift the output by 80 mV less the share that the span loses."""
    assert _output(0.2, ground_ohm=10.0) == pytest.approx(0.08 + 0.2 * 4.92)


def test_weak_magnet_pulls_both_ends_toward_half_the_supply() -> None:
    """The output without field is half the supply: half the field halves both distances to it."""
    weak = Hall(rest_share=0.2, full_share=0.8, magnet=0.5)
    assert weak.share(np.array([0.0, 1.0])) == pytest.approx([0.35, 0.65])


@pytest.mark.parametrize(
    ("wiring", "expected_v"),
    [
        (Wiring(signal_ohm=0.0, leak_ohm=1e12), 2.0),
        (Wiring(signal_ohm=OPEN, leak_ohm=1e5, leak_to_v=5.0), 5.0),
        (Wiring(signal_ohm=OPEN, leak_ohm=1e5), 0.0),
        (Wiring(signal_ohm=0.0, leak_ohm=1e12, to_ground_ohm=60.0), 1.0),
        (Wiring(signal_ohm=0.0, leak_ohm=1e12, to_supply_ohm=60.0), 3.5),
    ],
)
def test_node_obeys_the_divider_rule(wiring: Wiring, expected_v: float) -> None:
    """A 2 V source behind 60 ohm meets pulls and shorts as a resistor divider says."""
    node = wire_node(wiring, _one(2.0), _one(60.0 + wiring.signal_ohm), _one(5.0), _one(0.0))
    assert node.volts == pytest.approx(expected_v)


def test_coupled_current_matters_only_on_an_open_wire() -> None:
    """100 nA of mains current make 1 V on 10 megohm and 6 microvolt on a 60 ohm source."""
    open_wire = wire_node(Wiring(leak_ohm=1e7), _one(2.0), _one(OPEN), _one(5.0), _one(1e-7))
    whole = wire_node(Wiring(leak_ohm=1e7), _one(2.0), _one(60.0), _one(5.0), _one(1e-7))
    assert open_wire.volts == pytest.approx(1.0)
    assert whole.volts == pytest.approx(2.0, abs=2e-5)


def test_bridge_of_no_resistance_makes_both_wires_equal() -> None:
    """Two equal sources joined read their mean; a very large bridge leaves each alone."""
    first = Node(_one(1 / 60), _one(1.0 / 60))
    second = Node(_one(1 / 60), _one(3.0 / 60))
    joined = bridged(first, second, 1e-6)
    assert joined[0] == pytest.approx(2.0, rel=1e-6)
    assert joined[1] == pytest.approx(2.0, rel=1e-6)
    assert bridged(first, second, OPEN)[0] == pytest.approx(1.0)


def test_floating_input_shows_the_channel_scanned_before_it() -> None:
    """Carried charge wins over a leak that is far weaker."""
    nothing = Node(_one(1e-12), _one(0.0))
    assert floating(nothing, _one(1.7), 1e-9).volts == pytest.approx(1.7, rel=2e-3)


def test_thermistor_halves_the_pull_up_at_25_degrees() -> None:
    """A 10 kilohm bead under 10 kilohm reads half the pull-up at 25 degC."""
    assert Thermistor().volts(_one(25.0)) == pytest.approx(2.5)


def test_open_and_shorted_thermistors_read_the_rails() -> None:
    """Open reads the pull-up, a dead short next to nothing, damp in an open plug its own ohms."""
    assert Thermistor(series_ohm=OPEN).volts(_one(15.0)) == pytest.approx(5.0)
    assert float(Thermistor(across_ohm=1.0).volts(_one(15.0))[0]) < 0.001
    damp = Thermistor(series_ohm=OPEN, across_ohm=1e6)
    assert damp.ohms(_one(15.0)) == pytest.approx(1e6)


def test_converter_rounds_down_and_holds_at_its_ends() -> None:
    """Codes are floor(V codes / reference), from 0 to codes - 1."""
    converter = Converter(codes=1024, reference_v=5.0)
    volts = np.array([-0.1, 0.0, 4.88e-3, 4.89e-3, 2.5, 5.0, 6.0])
    assert converter.counts(volts).tolist() == [0, 0, 0, 1, 512, 1023, 1023]
