"""How feels strike their chords, as exercises are told it."""

from __future__ import annotations

from fractions import Fraction as F
from itertools import pairwise

import pytest

from genex.band import all_grooves
from genex.compose.feel_comping import feel_comping

GROOVES = {groove.name: groove for groove in all_grooves()}


def onsets(feel: str) -> list[list[F]]:
    return [[struck.onset_beats for struck in bar] for bar in feel_comping(GROOVES[feel])]


@pytest.mark.parametrize(
    ("feel", "expected"),
    [
        # rhythms of the styles [common practice]
        ("swing", [[0, F(3, 2)]]),  # the Charleston
        ("reggae", [[1, 3]]),
        ("two-beat", [[1, 3]]),
        ("hard-rock", [[F(k, 2) for k in range(8)]]),
        ("bed", [[0]]),
        ("bossa", [[0, F(3, 2), 3], [F(1, 2), 2, F(7, 2)]]),
    ],
)
def test_feels_as_they_are_comped(feel: str, expected: list[list[F]]) -> None:
    assert onsets(feel) == expected


@pytest.mark.parametrize("name", sorted(GROOVES))
def test_every_feel_is_told_in_full_bars_without_overlaps(name: str) -> None:
    groove = GROOVES[name]
    bars = feel_comping(groove)
    assert bool(bars) == (groove.comping is not None)
    for bar in bars:
        for struck, after in pairwise(bar):
            assert struck.onset_beats + struck.length_beats <= after.onset_beats
        assert all(0 <= struck.onset_beats < groove.bar_beats and 1 <= struck.loudness <= 9
                   for struck in bar)  # fmt: skip


def test_swung_beats_are_written_straight_and_triplets_stay() -> None:
    for name in ("swing", "shuffle", "two-beat", "jazz-waltz", "soul"):
        for bar in feel_comping(GROOVES[name]):
            assert all((4 * struck.onset_beats).denominator == 1 for struck in bar)


def test_signs_of_groove_files() -> None:
    assert any(struck.is_ahead for bar in feel_comping(GROOVES["bossa"]) for struck in bar)
    assert any(struck.is_muted for bar in feel_comping(GROOVES["funk"]) for struck in bar)
    voices = [struck.voice for bar in feel_comping(GROOVES["pop-ballad"]) for struck in bar]
    assert voices == [0, 1, 2, 3, 2, 1, 2, 3]
