"""Approach notes to every tone of a shape."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from genex.errors import FretboardError
from genex.fretboard import SEQUENCES, STANDARD, chord_shape, chord_shapes, tuning
from genex.lines.approached import approached
from genex.theory import find_scale, parse_chord, scales_for
from genex.theory.qualities import QUALITIES


def spelled(name: str, symbol: str, scale: str, form: str) -> str:
    chord = parse_chord(symbol)
    walk = approached(
        SEQUENCES[name], chord_shape(chord, STANDARD, form), chord, find_scale(scale), STANDARD
    )
    return " ".join(str(note.pitch.name) for note in walk)


@pytest.mark.parametrize(
    ("name", "notes"),
    [
        # [common practice]: to the third, the fifth and the seventh of Cmaj7
        ("approach from below", "C D# E F# G A# B"),
        ("approach from above", "C F E A G C B"),
        ("enclosures", "C F D# E A F# G C A# B"),
    ],
)
def test_the_approaches_of_a_major_seventh(name: str, notes: str) -> None:
    assert spelled(name, "Cmaj7", "major", "A").startswith(notes)


def test_the_step_above_is_the_scales() -> None:
    assert spelled("approach from above", "Dm7", "dorian", "A").startswith("D G F B A D C")
    assert spelled("approach from above", "Dm7", "phrygian", "A").startswith("D G F Bb A D C")


@settings(max_examples=40)
@given(
    st.sampled_from(sorted(QUALITIES)),
    st.sampled_from(["approach from below", "approach from above", "enclosures"]),
    st.sampled_from(
        ["standard", "all fourths", "DADGAD", "ukulele", "four-string bass", "seven-string"]
    ),
)
def test_every_quality_on_other_necks(quality: str, name: str, neck: str) -> None:
    row = SEQUENCES[name]
    chord, strings = parse_chord(f"A{quality}"), tuning(neck)
    try:
        found = chord_shapes(chord, strings)
    except FretboardError:
        return
    for shape in found:
        if len(shape.notes) - shape.lowest_root < row.min_notes:
            continue
        walk = approached(row, shape, chord, scales_for(chord)[0], strings)
        assert [note.place for note in walk[:: row.group]] == [step.note.place for step in shape.path]
        for note in walk:
            assert strings.open_midi[note.string - 1] + note.fret == note.midi
