"""The fuzzers at length: ``python -m tests.bench.fuzz SECONDS``. Stops at what is not answered.

Every kind is drawn at random, without end, for as long as is wished; a failure is shrunk and printed.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable

from hypothesis import HealthCheck, Phase, settings

from tests import test_fuzzed

ROUND = 200


def main(seconds: float) -> None:
    """Fuzz each kind in turn until the time is up."""
    kinds: dict[str, Callable[[], None]] = {
        name.removeprefix("test_"): test
        for name, test in vars(test_fuzzed).items()
        if name.startswith("test_")
    }
    begun, count = time.monotonic(), 0
    while time.monotonic() < begun + seconds:
        for name, test in kinds.items():
            at_length(test)
            count += ROUND
            print(f"{time.monotonic() - begun:6.0f} s  {count} drawn, {name} answered", flush=True)


def at_length(test: Callable[[], None]) -> None:
    """One round of a test with other draws than in the suite."""
    settings(
        max_examples=ROUND,
        derandomize=False,
        database=None,
        deadline=None,
        phases=[Phase.generate, Phase.shrink],
        suppress_health_check=list(HealthCheck),
    )(test)()


if __name__ == "__main__":
    main(float(sys.argv[1]) if len(sys.argv) > 1 else 60.0)
