"""Open-position forms: an own form beside the others, where the open strings are the chord's."""

from __future__ import annotations

import pytest

from genex.errors import FretboardError
from genex.export.neck_text import shape_heading
from genex.fretboard import OPEN_FORM, STANDARD, TUNINGS, chord_shape, pitch_at, shape, shapes, tuning
from genex.theory import parse_chord


def spoken(symbol: str, name: str = "standard") -> str:
    found = chord_shape(parse_chord(symbol), tuning(name), OPEN_FORM)
    return " ".join(f"{note.string}/{note.fret}-{note.finger}" for note in found.notes)


@pytest.mark.parametrize(
    ("symbol", "expected"),
    [
        # the fingers of the open chords that every method begins with [common practice]
        ("E", "6/0-0 6/4-4 5/2-2 4/2-3 3/1-1 2/0-0 1/0-0 1/4-4"),
        ("Em", "6/0-0 6/3-4 5/2-2 4/2-3 3/0-0 2/0-0 1/0-0 1/3-3"),
        ("Am", "6/0-0 5/0-0 5/3-4 4/2-2 3/2-3 2/1-1 1/0-0"),
        ("C", "6/0-0 6/3-3 5/3-3 4/2-2 3/0-0 2/1-1 1/0-0 1/3-3"),
        ("G", "6/3-3 5/2-2 4/0-0 3/0-0 2/0-0 2/3-3 1/3-4"),
        ("Dm", "6/1-1 5/0-0 4/0-0 4/3-3 3/2-2 2/3-3 1/1-1"),
    ],
)
def test_open_chords(symbol: str, expected: str) -> None:
    assert spoken(symbol) == expected


@pytest.mark.parametrize(
    ("name", "symbol"),
    [  # every other chord in a tuning, those between in the next
        (name, symbol)
        for number, name in enumerate(TUNINGS)
        for symbol in "C G7 Am7 Dm E Fmaj7 Bb".split()[number % 2 :: 2]
    ],
)
def test_an_open_form_is_whole_and_lies_at_the_nut(name: str, symbol: str) -> None:
    neck, chord = TUNINGS[name], parse_chord(symbol)
    opens = sum(midi % 12 in chord.pitch_classes for midi in neck.open_midi)
    try:
        found = chord_shape(chord, neck, OPEN_FORM)
    except FretboardError as error:
        assert error.hint is not None
        assert opens < 2 or len(neck.strings) < 6
        return
    assert opens >= 2
    midis = [note.midi for note in found.notes]
    assert midis == [m for m in range(midis[0], midis[-1] + 1) if m % 12 in chord.pitch_classes]
    for note in found.notes:
        assert pitch_at(neck, note.string, note.fret) == note.midi
        assert (note.fret == 0) == (note.finger == 0)
        # an open string wherever one has the pitch
        assert note.fret == 0 or note.midi not in neck.open_midi


def test_it_stands_beside_the_five_and_can_be_left_out() -> None:
    chord = parse_chord("C")
    beside = shapes(chord.degrees, chord.root, STANDARD, with_open=True)
    assert [each.form for each in beside] == [OPEN_FORM, "A", "G", "E", "D", "C"]
    assert [each.form for each in shapes(chord.degrees, chord.root, STANDARD)] == list("AGEDC")
    assert shape_heading(beside[0]) == "Open position"
    no_open = parse_chord("Bb")
    assert OPEN_FORM not in {
        each.form for each in shapes(no_open.degrees, no_open.root, STANDARD, with_open=True)
    }
    with pytest.raises(FretboardError, match=r"no open form[\s\S]*these forms do"):
        shape(no_open.degrees, no_open.root, STANDARD, "open")
