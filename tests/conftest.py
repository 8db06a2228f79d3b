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


APART = ("test_demo_faults.py", "test_readme.py", "test_setup_guided.py")
"""Modules whose tests last for seconds and share nothing but the demo: each test by itself."""


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: object) -> object:
    """Whoever is done takes the next module, in the order of collection: the long ones first."""
    from xdist.scheduler import LoadScopeScheduling  # type: ignore[import-untyped]

    class Modules(LoadScopeScheduling):  # type: ignore[misc]
        def _split_scope(self, nodeid: str) -> str:
            module = nodeid.partition("::")[0]
            return nodeid if module.endswith(APART) else module

    config.option.loadscopereorder = False
    return Modules(config, log)
