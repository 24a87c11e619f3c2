"""Work dealt out to processes: the same results in the same order, whatever becomes of a process."""

from __future__ import annotations

import os
import signal

import pytest

from genex.side_by_side import side_by_side

FIRST = os.getpid()


def doubled(items: list[int]) -> list[tuple[int, int]]:
    return [(2 * item, os.getpid()) for item in items]


def failing_elsewhere(items: list[int]) -> list[int]:
    if os.getpid() != FIRST:
        raise ValueError("not here")
    return [2 * item for item in items]


def ended_elsewhere(items: list[int]) -> list[int]:
    if os.getpid() != FIRST:
        os._exit(3)
    return [2 * item for item in items]


def refusing(items: list[int]) -> list[int]:
    if 4 in items:
        raise ValueError("four")
    return items


def test_results_come_in_the_order_of_the_items() -> None:
    made = side_by_side(doubled, list(range(7)), 3)
    assert [value for value, _ in made] == [0, 2, 4, 6, 8, 10, 12]
    assert len({process for _, process in made}) == 3
    assert [value for value, _ in side_by_side(doubled, [5], 3)] == [10]
    assert side_by_side(doubled, [], 2) == []


def hearing_ctrl_c(items: list[int]) -> list[bool]:
    is_heard = signal.SIGINT not in signal.pthread_sigmask(signal.SIG_BLOCK, ())
    return [is_heard for _ in items]


def test_only_the_first_process_hears_ctrl_c() -> None:
    assert side_by_side(hearing_ctrl_c, [1, 2, 3], 3) == [True, False, False]


@pytest.mark.parametrize("work", [failing_elsewhere, ended_elsewhere])
def test_what_another_process_did_not_make_is_made_here(work) -> None:  # type: ignore[no-untyped-def]
    assert side_by_side(work, list(range(5)), 2) == [0, 2, 4, 6, 8]


def test_an_error_is_that_of_the_work_itself() -> None:
    for processes in (1, 2):
        with pytest.raises(ValueError, match="four"):
            side_by_side(refusing, [1, 2, 3, 4], processes)
