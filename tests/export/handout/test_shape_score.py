"""A practice path as a score."""

from __future__ import annotations

import pytest

from genex.export.handout.shape_score import path_score
from genex.fretboard import STANDARD, chord_shapes
from genex.score.checks import require_sound
from genex.theory import parse_chord


@pytest.mark.parametrize("symbol", ["C5", "G", "Am7", "Ebmaj7", "F#m7b5", "C13", "B7alt"])
def test_a_path_is_a_sound_line_of_the_shape_s_notes(symbol: str) -> None:
    chord = parse_chord(symbol)
    for shape in chord_shapes(chord, STANDARD):
        score = path_score(chord, shape, STANDARD)
        require_sound(score)
        (part,) = score.parts
        assert [note.midi for note in part.notes] == [step.note.midi for step in shape.path]
        assert part.notes[-1].written_end_beats == score.length_beats
        assert score.length_beats - part.notes[-1].onset_beats <= 4
