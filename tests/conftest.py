"""What every test needs of the machine."""

from __future__ import annotations

import signal

# A job in the background of a script inherits that Ctrl-C is ignored, and so would the programs
# that the tests start; a person's terminal hands it on.
if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    signal.signal(signal.SIGINT, signal.default_int_handler)
