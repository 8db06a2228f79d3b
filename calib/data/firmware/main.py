"""Logger firmware of calib in MicroPython, for a bare microcontroller board.

It reads the analog pins in PINS at a fixed rate and sends them over USB as text:

    t_ms,a0,a1,...      once, at the start
    1230,2048,87,...    then line by line: milliseconds since the start, counts 0 to 4095

Each line ends in CR LF, and with CHECKSUM in *hh before it: the exclusive or of the bytes before
the star, as two hexadecimal digits.

With WHEEL_PIN a last column, wheel, counts the rising edges at that pin, 0 to 65535 and from 0
again. An edge within WHEEL_QUIET_US of the edge before it, of either kind, is a contact's bounce
and does not count.

For a bare logger board, never for a motor controller. It only reads its pins and sends.
"""

import sys
import time

from machine import ADC, Pin

PINS = (26, 27, 28)  # the board's analog pins: a0, a1, ...
RATE_HZ = 100  # lines a second; must divide 1000
CHECKSUM = False  # True: end each line in *hh
WHEEL_PIN = None  # number of the pin at which the wheel's pulses are counted
WHEEL_QUIET_US = 100  # microseconds without an edge before one that counts

T_MS_WRAP = 4294967296  # 32 bits, as the C version counts
WHEEL_WRAP = 65536  # 16 bits, as the C version counts


class Wheel:
    """Counts the rising edges at a pin, by interrupt."""

    def __init__(self, pin):
        """Count from now on."""
        self.pulses = 0
        self.before_us = time.ticks_us()
        pin.irq(self.edge, Pin.IRQ_RISING | Pin.IRQ_FALLING)

    def edge(self, pin):
        """An edge came; what is negative was more than half of the ticks' wrap ago."""
        now_us = time.ticks_us()
        quiet_us = time.ticks_diff(now_us, self.before_us)
        if pin.value() and (quiet_us >= WHEEL_QUIET_US or quiet_us < 0):
            self.pulses = (self.pulses + 1) % WHEEL_WRAP
        self.before_us = now_us


def ended(text):
    """The line as it is sent, in bytes."""
    if CHECKSUM:
        total = 0
        for byte in text.encode():
            total ^= byte
        text = f"{text}*{total:02X}"
    return f"{text}\r\n".encode()


def header():
    """The line that names the columns."""
    wheel = [] if WHEEL_PIN is None else ["wheel"]
    return ended(",".join(["t_ms"] + [f"a{number}" for number in range(len(PINS))] + wheel))


def sample(t_ms, counts):
    """The line of one scan."""
    return ended(",".join([str(number) for number in [t_ms] + counts]))


def count(pin):
    """Reading of one pin, 0 to 4095; the board spreads the converter's 12 bits over 16."""
    return pin.read_u16() >> 4


def run(pins, out, wheel=None):
    """Send a line for every scan, for ever."""
    period_ms = 1000 // RATE_HZ
    t_ms = 0
    before = due = time.ticks_ms()
    out.write(header())
    while True:
        due = time.ticks_add(due, period_ms)
        wait_ms = time.ticks_diff(due, time.ticks_ms())
        if wait_ms > 0:
            time.sleep_ms(wait_ms)
        elif wait_ms < -period_ms:
            due = time.ticks_ms()  # what was missed is left out, never sent late
        now = time.ticks_ms()
        t_ms = (t_ms + time.ticks_diff(now, before)) % T_MS_WRAP  # the ticks themselves wrap early
        before = now
        pulses = [] if wheel is None else [wheel.pulses]
        out.write(sample(t_ms, [count(pin) for pin in pins] + pulses))


if __name__ == "__main__":
    run(
        [ADC(Pin(number)) for number in PINS],
        sys.stdout.buffer,
        None if WHEEL_PIN is None else Wheel(Pin(WHEEL_PIN, Pin.IN)),
    )
