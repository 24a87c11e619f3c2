import pytest
from hypothesis import given
from hypothesis import strategies as st

from genex.lines.ladders import (
    chord_tones,
    degree_over,
    leading_note,
    nearest,
    pitch_in_scale,
    pitch_of,
    stacked_ladder,
)
from genex.theory import Degree, NoteName, Pitch, find_scale, parse_chord

names = st.builds(NoteName, st.integers(0, 6), st.integers(-1, 1))
degrees = st.builds(Degree, st.integers(1, 7), st.integers(-1, 1))


def spelled(chord, midis):
    return " ".join(str(pitch_of(chord, midi)[0].name) for midi in midis)


@given(names, degrees)
def test_a_degree_over_a_root_is_read_back(root, degree):
    assert degree_over(root, root.degree(degree)) == degree


@pytest.mark.parametrize(
    ("symbol", "stack"),
    [  # how extended chords are arpeggiated: in thirds [common practice]
        ("C", "C E G C E G C"),
        ("C7", "C E G Bb C E G Bb"),
        ("C9", "C E G Bb D E G Bb"),
        ("C6", "C E G A C E G A"),
        ("Cadd9", "C E G D E G C"),
        ("Csus2", "C D G C D G C"),
    ],
)
def test_stacks(symbol, stack):
    chord = parse_chord(symbol)
    ladder, root = stacked_ladder(chord, range(48, 48 + 28))
    assert root == 0
    assert spelled(chord, ladder)[: len(stack)] == stack


def test_a_stack_without_a_root_in_reach_is_every_chord_tone():
    chord = parse_chord("C9")
    ladder, at = stacked_ladder(chord, range(61, 72))
    assert (spelled(chord, ladder), at) == ("D E G Bb", 0)


def test_below_the_lowest_root_a_stack_has_the_low_tones():
    chord = parse_chord("C9")
    ladder, root = stacked_ladder(chord, range(40, 73))
    assert spelled(chord, ladder[:root]) == "E G Bb"


@given(
    st.sampled_from(["Gm7", "C13", "F#m7b5", "Bb7b9", "Esus4", "Abdim7", "Dadd9"]), st.integers(40, 52)
)
def test_a_stack_holds_chord_tones_only_and_ascends(symbol, low):
    chord = parse_chord(symbol)
    allowed = range(low, low + 28)
    ladder, root = stacked_ladder(chord, allowed)
    assert list(ladder) == sorted(set(ladder))
    assert set(ladder) <= set(chord_tones(chord, allowed))
    assert ladder[root] % 12 == chord.root.pitch_class


@pytest.mark.parametrize(
    ("target", "semitones", "symbol", "scale", "name"),
    [
        ("G3", -1, "Cmaj7", "major", "F#"),  # leads up: sharp
        ("G3", 1, "Cmaj7", "major", "Ab"),  # leads down: flat
        ("F#3", -1, "Fmaj7", "lydian", "F"),  # F is a note of the chord, so not E#
        ("C4", 1, "Am7", "dorian", "C#"),  # Db over A would be a flat fourth
        ("E3", -2, "Am7", "dorian", "D"),
        ("Gb3", -1, "Bbm7", "phrygian", "F"),
        ("F#3", -1, "C7", "lydian dominant", "F"),  # E# over C would be a sharp third
        ("Bb3", 1, "C7", "mixolydian", "B"),  # Cb over C would be a flat root
        ("E#4", -1, "C#7", "mixolydian", "E"),  # nobody reads D## for it
        ("Fb4", 1, "Dbm7", "dorian", "F"),  # nor Gbb
    ],
)
def test_leading_notes(target, semitones, symbol, scale, name):
    found, degree = leading_note(Pitch.parse(target), semitones, parse_chord(symbol), find_scale(scale))
    assert str(found.name) == name
    assert found.midi == Pitch.parse(target).midi + semitones
    assert degree.semitones % 12 == (found.midi - parse_chord(symbol).root.pitch_class) % 12


def test_nearest():
    assert nearest((60, 64, 67), 62) == 60
    assert nearest((60, 64, 67), 60, other_than=60) == 64
    assert nearest((57, 67), 64, other_than=57) == nearest((67, 61), 65) == 67


def test_notes_foreign_to_chord_and_scale_have_no_name_in_them():
    chord = parse_chord("C7")
    with pytest.raises(ValueError, match="no tone"):
        pitch_of(chord, 61)
    with pytest.raises(ValueError, match="no tone"):
        pitch_in_scale(chord, find_scale("mixolydian"), 61)
    assert str(pitch_in_scale(chord, find_scale("mixolydian"), 62)[1]) == "2"
