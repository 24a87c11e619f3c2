"""Stacks of thirds."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from genex.theory import Degree, NoteName, parse_chord, stacked_thirds, without_clash
from genex.theory.qualities import QUALITIES

ROOTS = [NoteName.parse(name) for name in "C Db D Eb E F F# G Ab A Bb B".split()]


@pytest.mark.parametrize(
    ("symbol", "expected"),
    [
        ("Cmaj7", "C3 E3 G3 B3 C4 E4 G4 B4 C5"),
        ("C9", "C3 E3 G3 Bb3 D4 E4 G4 Bb4 C5"),
        ("C6/9", "C3 E3 G3 A3 D4 E4 G4 A4 C5"),
        ("C13", "C3 E3 G3 Bb3 D4 A4 Bb4 C5"),
        ("Cm13", "C3 Eb3 G3 Bb3 D4 F4 A4 Bb4 C5"),
        ("C13#11", "C3 E3 G3 Bb3 D4 F#4 A4 Bb4 C5"),
        ("C11", "C3 E3 G3 Bb3 D4 F4 G4 Bb4 C5"),
    ],
)
def test_stacks(symbol: str, expected: str) -> None:
    """[common practice]: 1 3 5 7 9; the low tones come back above the highest extension. A 13th has no
    natural 11 beside its major third"""
    chord = parse_chord(symbol)
    found = stacked_thirds(chord.degrees, chord.root, range(48, 73))
    names = [
        str(chord.root.degree(chord.degree_of(m) or chord.degrees[0]).at_or_above(m)) for m in found
    ]
    assert " ".join(names) == expected


@settings(max_examples=60)
@given(st.sampled_from(sorted(QUALITIES)), st.sampled_from(ROOTS), st.integers(40, 52))
def test_a_stack_loses_no_degree_that_there_is(quality: str, root: NoteName, low: int) -> None:
    degrees = QUALITIES[quality].degrees
    midis = range(low, low + 24)
    played = without_clash(degrees)
    assert set(degrees) - set(played) <= {Degree(11)}
    assert played == degrees or {Degree(3), Degree(13)} <= set(played)
    classes = {root.degree(degree).pitch_class for degree in played}
    assert {midi % 12 for midi in stacked_thirds(degrees, root, midis)} == classes
