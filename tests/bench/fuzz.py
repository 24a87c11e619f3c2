"""The fuzzers at length: ``python -m tests.bench.fuzz SECONDS``. Stops at what is not answered.

Every kind is drawn at random, without end, for as long as is wished; a failure is shrunk and printed.
"""

from __future__ import annotations

import os
import sys
import time

ROUND = 200
os.environ["GENEX_FUZZ"] = str(ROUND)

from tests import test_fuzzed  # noqa: E402 - it reads how many are drawn


def main(seconds: float) -> None:
    """Fuzz each kind in turn until the time is up."""
    kinds = [test for name, test in vars(test_fuzzed).items() if name.startswith("test_")]
    begun, count = time.monotonic(), 0
    while time.monotonic() < begun + seconds:
        for test in kinds:
            test()
            count += ROUND
            took = time.monotonic() - begun
            print(f"{took:6.0f} s  {count} drawn: {test.__name__} answered", flush=True)


if __name__ == "__main__":
    main(float(sys.argv[1]) if len(sys.argv) > 1 else 60.0)
