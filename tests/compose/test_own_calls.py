"""Call and response with the teacher's own calls."""

from __future__ import annotations

import pytest

from genex.compose import compose
from genex.errors import InputError
from genex.score import Bend, Legato
from tests.compose.test_own_lines import heard, recipe_of

CALLS = """
kind: calls
bars: 1
abc: |
  D2 F2 !bend!A2 z2 | z2 (FG) B,4 |
"""


def piece_of(exercise: str, version: int = 0, **around: str):
    recipe = recipe_of(exercise, **around)
    return compose(recipe, recipe.versions[version])


def test_every_call_has_its_bars_and_its_silence_and_is_told_after_it():
    """Call and response gives the phrase and as long a silence [common practice]."""
    piece = piece_of(CALLS)
    (part,) = piece.score.lead_parts
    assert heard(part) == [
        (0, "D4", 1), (1, "F4", 1), (2, "A4", 1),
        (9, "F4", 0.5), (9.5, "G4", 0.5), (10, "B3", 2),
    ]  # fmt: skip
    chords = [str(span.chord) for span in piece.score.timeline.chords]
    assert chords[:4] == ["Dm7", "Dm7", "G7", "G7"]
    assert [str(note.degree) for note in part.notes] == ["1", "b3", "5", "b7", "1", "3"]
    assert part.notes[2].bend == Bend(2) and part.notes[4].legato is Legato.HAMMER_ON
    first, second = piece.answers
    assert first.text == "D4 (1) F4 (b3) A4 (5)"
    assert [str(note.pitch) for note in second.notes] == ["F4", "G4", "B3"]
    told = [(cue.onset_beats, cue.text) for cue in piece.cues if cue.kind == "answer"]
    assert told == [(8, first.text), (16, second.text)]


def test_calls_come_again_with_answers_and_in_other_keys():
    given = f"{CALLS.rstrip()}\nrepeats: 2\nanswer: true\nannounce: true\n"
    piece = piece_of(given, 1, head="key: C\nkeys: [C, Eb]")
    (part,) = piece.score.lead_parts
    names = [str(note.pitch) for note in part.notes]
    first, second = ["F4", "Ab4", "C5"], ["Ab4", "Bb4", "D4"]
    assert names == [first[0], *first * 4, second[0], *second * 4]
    assert part.notes[0].duration_beats == 2  # half of the bar that announces the call


@pytest.mark.parametrize(
    ("exercise", "said"),
    [
        ("abc: D4 A4- | A8 |\nbars: 1", "A4 sounds on when its call is over: a call has 1 bar"),
        ("abc: D8 | z8 |\nbars: 1", "call 2 of the line, from bar 2 on, has no note"),
        ("abc: G2 | D8 |", "a call begins with its bar"),
        ("abc: D8 |\nlevel: 3", "'level' is of calls that are made"),
        ("abc: D8 |\nkeep_form: true", "calls of your own have their bars again"),
        ("abc: D8 |\nfile: x.abc", "both have a phrase"),
        ("octave: -1", "'octave' is of a line, and none is written"),
    ],
)
def test_what_is_refused(exercise, said):
    with pytest.raises(InputError) as refused:
        piece_of(f"kind: calls\n{exercise}")
    assert said in refused.value.message
