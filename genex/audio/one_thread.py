"""Matrix products by one thread, whatever the process has set.

Several threads share a product out among them, and how they do that may change its last bits; so
sound is the same, bit for bit, on any number of processors of one kind. Products as small as those
of this room are done sooner by one thread too.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from functools import lru_cache

import numpy as np  # noqa: F401  (to be loaded is all that is asked of it)
from threadpoolctl import ThreadpoolController


@contextmanager
def one_thread() -> Iterator[None]:
    """Within it (or in a function that it decorates) numpy multiplies matrices by one thread.

    Afterwards the process has as many as before. May be entered within itself.
    """
    with _controller().limit(limits=1, user_api="blas"):
        yield


@lru_cache(maxsize=1)
def _controller() -> ThreadpoolController:
    """What sets the threads of the libraries that are loaded: numpy brings its own."""
    return ThreadpoolController()
