"""Triad pairs over chords."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from genex.theory import SCALES, find_scale, parse_chord, triad_pair
from genex.theory.qualities import QUALITIES


@pytest.mark.parametrize(
    ("symbol", "scale", "names"),
    [
        ("Dm7", "dorian", "F G"),
        ("Cmaj7", "lydian", "C D"),
        ("Cmaj7", "major", "G Am"),
        ("G7", "altered", "Db Eb"),
        ("G7", "lydian dominant", "G A"),
    ],
)
def test_pairs_that_players_use(symbol: str, scale: str, names: str) -> None:
    """[common practice]: two triads a step apart, without the note that rubs against the chord"""
    pair = triad_pair(parse_chord(symbol), find_scale(scale))
    assert pair is not None and " ".join(pair.names) == names


@given(st.sampled_from(sorted(QUALITIES)), st.sampled_from(sorted(SCALES)))
def test_a_pair_is_two_triads_of_the_scale_without_a_common_tone(quality: str, name: str) -> None:
    chord, scale = parse_chord(f"Eb{quality}"), SCALES[name]
    pair = triad_pair(chord, scale)
    assert (pair is None) == (len(scale.degrees) < 6)
    if pair is not None:
        classes = {degree.semitones % 12 for degree in pair.degrees}
        assert len(classes) == len(pair.degrees) == 6
        assert classes <= {degree.semitones % 12 for degree in scale.degrees}
        assert pair.names[0] != pair.names[1]
