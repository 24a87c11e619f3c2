"""Whether this process may still be copied (forked), and how it is stopped. Imports nothing of genex.

A library that works with threads of its own leaves them behind in a copy of the process, which then
waits for them for ever. Whoever calls such a library says so here.
"""

import signal
import sys
from collections.abc import Iterator
from contextlib import contextmanager

_has_threads = False


def threads_begin() -> None:
    """A library's own threads begin, and stay to the end of the process."""
    global _has_threads
    _has_threads = True


def may_be_copied() -> bool:
    """Whether copies of this process work: on Linux, as long as no library's threads have begun."""
    return sys.platform == "linux" and not _has_threads


@contextmanager
def ctrl_c_waits() -> Iterator[None]:
    """Processes begun here never hear Ctrl-C, not even before they have said so themselves."""
    if not hasattr(signal, "pthread_sigmask"):
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, {signal.SIGINT})
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


class Stopped(BaseException):
    """Ctrl-C. Not an Exception, so that nothing on the way takes it for a fault."""
