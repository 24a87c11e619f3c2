import pytest
from hypothesis import given
from hypothesis import strategies as st

from genex.lines.resolution import resolution
from genex.theory import parse_chord

ROOTS = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")


@pytest.mark.parametrize(
    ("before", "after", "first", "second"),
    [  # the seventh falls to the third [common practice]
        ("Dm7", "G7", 60, 59),
        ("G7", "Cmaj7", 65, 64),
        ("Bm7b5", "E7b9", 57, 56),
        ("E7b9", "Am7", 62, 60),
        # the seventh of the major seventh chord falls to the third of its relative minor's dominant
        ("Fmaj7", "Bm7b5", 64, 62),
        # the third falls to the sixth that stands for a seventh
        ("C7", "F6", 64, 62),
    ],
)
def test_guide_tones_that_resolve(before, after, first, second):
    ways = resolution(parse_chord(before), parse_chord(after))
    assert ways is not None
    assert ways.is_made_by(first, second)
    assert not ways.is_made_by(first, first)
    assert not ways.is_made_by(first, second + 12)


@given(st.sampled_from(ROOTS), st.sampled_from(["m7", "7", "maj7", "m7b5"]))
def test_a_fourth_up_the_seventh_falls_to_the_third_in_every_key(root, quality):
    old = parse_chord(root + quality)
    up_a_fourth = ROOTS[(old.root.pitch_class + 5) % 12]
    for kind in ("7", "maj7", "m7"):
        new = parse_chord(up_a_fourth + kind)
        seventh = old.root.degree(old.guide_tones[1]).pitch_class
        third = new.root.degree(new.guide_tones[0]).pitch_class
        ways = resolution(old, new)
        assert ways is not None
        falls = (seventh - third) % 12
        assert ((seventh, third) in ways.ways) == (falls in (1, 2))


def test_where_guide_tones_are_held_one_moves_to_another_tone():
    # the tritone of C7, E and Bb, is that of Gb7; E rises to its root by a whole tone [computed]
    ways = resolution(parse_chord("C7"), parse_chord("Gb7"))
    assert ways is not None
    assert ways.ways == {(4, 6)}
    assert ways.is_made_by(64, 66)


def test_chords_of_the_same_notes_resolve_nothing():
    assert resolution(parse_chord("Cdim7"), parse_chord("Ebdim7")) is None
