"""Work of many like pieces, dealt out to several processes."""

from __future__ import annotations

import multiprocessing
import signal
from collections.abc import Callable, Sequence
from contextlib import suppress
from multiprocessing.connection import Connection
from typing import Any, TypeVar

from genex.processes import ctrl_c_waits, may_be_copied

_Item = TypeVar("_Item")
_Result = TypeVar("_Result")


def side_by_side(
    work: Callable[[Sequence[_Item]], list[_Result]], items: Sequence[_Item], processes: int
) -> list[_Result]:
    """What ``work`` makes of the items, one result each in their order, made by so many processes.

    ``work`` is a function of a module (or a ``partial`` of one), as processes that cannot be copies of
    this one are sent it. This process makes its share too, and the share of a process that failed or
    came to an end: so an error is told as if ``work`` had been called here with everything.
    """
    count = max(1, min(processes, len(items)))
    shares = [items[number::count] for number in range(count)]
    is_copied = may_be_copied()
    context: Any = multiprocessing.get_context("fork" if is_copied else "spawn")
    helpers: list[tuple[Any, Connection]] = []
    try:
        for share in shares[1:]:
            connection, other = context.Pipe(duplex=False)
            # A copy has copies of these. It must let go of them, or it would wait for ever that somebody
            # takes its result when this process was killed.
            foreign = [connection, *(known for _, known in helpers)] if is_copied else []
            helper = context.Process(target=_help, args=(other, work, share, foreign), daemon=True)
            with ctrl_c_waits():  # until the helper is known, and so is ended
                helper.start()
                helpers.append((helper, connection))
            other.close()
        made = [work(shares[0])]
        for (_, connection), share in zip(helpers, shares[1:], strict=True):
            made.append(_heard(connection) or work(share))
    finally:
        for helper, connection in helpers:
            helper.terminate()
            helper.join()
            connection.close()
    return [made[index % count][index // count] for index in range(len(items))]


def _help(
    connection: Connection,
    work: Callable[[Sequence[_Item]], list[_Result]],
    share: Sequence[_Item],
    foreign: Sequence[Connection],
) -> None:
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the first process ends it
    for known in foreign:
        known.close()
    with suppress(Exception):
        connection.send(work(share))
    connection.close()


def _heard(connection: Connection) -> list[_Result] | None:
    """What a process has made, None if it made nothing."""
    try:
        heard: list[_Result] = connection.recv()
        return heard
    except (EOFError, OSError):
        return None
