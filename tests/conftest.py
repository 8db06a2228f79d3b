"""What every test needs of the machine."""

from __future__ import annotations

import gc
import signal
from collections.abc import Generator

import hypothesis
import pytest

# A job in the background of a script inherits that Ctrl-C is ignored, and so would the programs
# that the tests start; a person's terminal hands it on.
if signal.getsignal(signal.SIGINT) is signal.SIG_IGN:
    signal.signal(signal.SIGINT, signal.default_int_handler)

# The same examples each time: what lands is not decided by a draw. `tests.bench.fuzz` draws anew.
hypothesis.settings.register_profile("fixed", derandomize=True, deadline=None)
hypothesis.settings.load_profile("fixed")


@pytest.hookimpl(wrapper=True)
def pytest_collection() -> Generator[None, object, object]:
    """What is collected stays to the end: looking it through for waste took a third of the time."""
    gc.disable()
    try:
        return (yield)
    finally:
        gc.freeze()
        gc.enable()


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: object) -> object:
    """Let a worker that is done take tests from one that waits: they last from 1 ms to 30 s."""
    from xdist.scheduler import WorkStealingScheduling  # type: ignore[import-untyped]

    return WorkStealingScheduling(config, log)
