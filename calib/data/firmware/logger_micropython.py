"""A logger for calib on a board that runs MicroPython; copy it to the board as main.py.

It reads its own analog pins and prints what it read. It takes no commands, and it is never
connected to a controller's data port. Most such boards stand 3.3 V at a pin: a 5 V signal needs a
divider.

Each line: milliseconds since the start, then one count (0 to 4095) a channel. A header comes first.
"""

import time

from machine import ADC

# What may be changed
PINS = (26, 27, 28)  # analog pins, first channel first
RATE_HZ = 100  # lines a second; must divide 1000
CHECKSUM = False  # True: each line ends in *hh, the exclusive or of what comes before

PERIOD_MS = 1000 // RATE_HZ
BITS_DROPPED = 4  # read_u16 stretches 12 bits to 16


def line(text):
    """A line as it is sent, with its checksum where that is asked for."""
    if not CHECKSUM:
        return text
    total = 0
    for byte in text.encode():
        total ^= byte
    return "%s*%02X" % (text, total)


def run():
    """Send samples for ever."""
    channels = [ADC(pin) for pin in PINS]
    print(line(",".join(["t_ms"] + ["a%d" % place for place in range(len(PINS))])))
    time_ms = 0
    last = time.ticks_ms()
    due_ms = 0
    while True:
        now = time.ticks_ms()
        time_ms += time.ticks_diff(now, last)  # the board's own counter wraps early
        last = now
        if time_ms < due_ms:
            time.sleep_ms(due_ms - time_ms)
            continue
        counts = [channel.read_u16() >> BITS_DROPPED for channel in channels]
        print(line(",".join([str(time_ms)] + [str(count) for count in counts])))
        due_ms += PERIOD_MS


run()
