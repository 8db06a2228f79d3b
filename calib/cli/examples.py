"""One example for each command, with which its help ends."""

from __future__ import annotations

from typing import Final

_MORE: Final = {
    "demo": "--fault ground-lost",
    "simulate": "--write-rig bench.toml --hands throttle",
    "logger-code": "--board micropython --pins 26,27,28",
    "setup": "--port /dev/ttyACM0",
    "meter": "throttle --meter-pct 0.5 --meter-digits 2",
    "check": "--rewired",
    "travel": "throttle --presses 10",
    "level": "--turned --seated",
    "signs": "--block-mm 90",
    "still": "--for 300",
    "trust": '--on-signal-loss "power off"',
    "sheet": "--verify --channel throttle",
    "wheel": "--rolled-m 19.84 --over-turns 10",
    "display": "--brake-shown on,off",
    "report": "--file wall.html",
    "status": "--rig bench.toml",
    "watch": "--big throttle",
    "record": "--for 60",
    "explain": "wiring",
    "schema": "travel",
}
"""What follows the command's name; a command that needs nothing is its own example."""


def example_of(name: str) -> str:
    """What to type."""
    return f"calib {name} {_MORE.get(name, '')}".rstrip()
