"""Signs around a bar: which of them meet, and what stands over a bar."""

from __future__ import annotations

from dataclasses import fields

import pytest

from genex.export.page_signs import PLAIN, UNDERSTOOD_TIMES, Signs

ALL = Signs(True, True, 3, 2, True, True, True, True, True, "Fine")


@pytest.mark.parametrize("name", [field.name for field in fields(Signs)])
def test_no_sign_of_two_repeats_around_one_bar_is_lost(name: str) -> None:
    one = Signs(**{name: getattr(ALL, name)})
    assert one != PLAIN
    assert one.beside(PLAIN) == PLAIN.beside(one) == one
    assert one.beside(ALL) == ALL


def test_what_is_played_twice_needs_no_word() -> None:
    assert not Signs(closes=True, times=UNDERSTOOD_TIMES).stands_above
    assert Signs(closes=True, times=UNDERSTOOD_TIMES + 1).stands_above
    assert not PLAIN.stands_above and not PLAIN.is_fresh


@pytest.mark.parametrize("name", ["opens", "ending_begins", "segno", "coda"])
def test_a_bar_that_is_reached_from_two_places_leaves_nothing_unsaid(name: str) -> None:
    assert Signs(**{name: True}).is_fresh
