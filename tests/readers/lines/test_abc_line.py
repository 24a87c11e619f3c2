"""Lines in ABC, by examples of the standard [published: ABC standard v2.1, 4], and by mistakes."""

from fractions import Fraction as F

import pytest

from genex.errors import ChartFileError
from genex.readers.lines.abc_line import read_abc_line
from genex.readers.lines.places import in_file
from genex.score import Articulation, Meter
from genex.theory import Key


def read(text, meter="4/4", key="C", number=None):
    return read_abc_line(text, in_file("lick.abc"), (Meter.parse(meter),), Key.parse(key), number)


def heard(text, **around):
    """Onset, pitch and length of every note."""
    return [
        (one.note.onset_beats, str(one.note.pitch), one.note.duration_beats)
        for one in read(text, **around).notes
    ]


def names(text, **around):
    return " ".join(pitch for _, pitch, _ in heard(text, **around))


@pytest.mark.parametrize(
    ("text", "lengths"),
    [
        ("A A2 A3 A2 |", [F(1, 2), 1, F(3, 2), 1]),
        ("A/ A/2 A// A/4 A3/2 A4 z/ z/ |", [F(1, 4), F(1, 4), F(1, 8), F(1, 8), F(3, 4), 2]),
        ("L:1/4\nA>B c<d |", [F(3, 2), F(1, 2), F(1, 2), F(3, 2)]),
        ("L:1/4\nA>>B c<<<d |", [F(7, 4), F(1, 4), F(1, 8), F(15, 8)]),
        ("(3ABc A2 B2 c2 |", [F(1, 3)] * 3 + [1, 1, 1]),
        ("(3:2:2G4c2 G4 |", [F(4, 3), F(2, 3), 2]),
        ("L:1/4\nA- A z B-|B4 |", [2, 5]),
        ("L:1/4\nA z B2 |", [1, 2]),
        ("[CEG]4 [C2E4]2 |", [2, 2, 2, 2, 2]),
    ],
)
def test_lengths(text, lengths):
    assert [length for _, _, length in heard(text)] == lengths


def test_rests_take_their_time():
    assert heard("z2 A2 x2 B2 | Z | c8 |")[1:] == [(3, "B4", 1), (8, "C5", 4)]


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("C,, C, C c | c' c'' C,' C |", "C2 C3 C4 C5 C6 C7 C4 C4"),
        ("^F _B =c F | ^^G __A F G |", "F#4 Bb4 C5 F#4 G##4 Abb4 F4 G##4"),
        ("^F f F, F | F z3 |", "F#4 F#5 F#3 F#4 F4"),  # in all octaves, to the bar line
        ("I:propagate-accidentals octave\n^F f F, F | F z3 |", "F#4 F5 F3 F#4 F4"),
        ("%%propagate-accidentals not\n^F f F, F | F z3 |", "F#4 F5 F3 F4 F4"),
        ("K:D\nF C =F F | F z3 |", "F#4 C#4 F4 F4 F#4"),
        ("K:D exp _b ^f\nB f c d |", "Bb4 F#5 C5 D5"),
        ("K:D _B\nB f c d |", "Bb4 F#5 C#5 D5"),
        ("K:A dorian\nF G A B |", "F#4 G4 A4 B4"),
        ("K:none\nF G A B |", "F4 G4 A4 B4"),
        ("K:C octave=-1\nF G A c |", "F3 G3 A3 C4"),
        ("K:G clef=treble-8\nF G A c |", "F#3 G3 A3 C4"),
        ("z3 ^F-|F F z2 |", "F#4 F4"),  # what is tied keeps its accidental, and ends with it
        ("A [K:F] B =B [K:C] B |", "A4 Bb4 B4 B4"),
    ],
)
def test_pitches(text, found):
    assert names(f"L:1/4\n{text}") == found


def test_without_a_key_line_the_recipe_s_signature_counts():
    assert names("B2 E2 F2 A2 |", key="Bb") == "Bb4 Eb4 F4 A4"
    assert names("K:C\nB2 E2 F2 A2 |", key="Bb") == "B4 E4 F4 A4"


def test_the_usual_unit():
    assert [length for *_, length in heard("A6 |", meter="3/8")] == [F(3, 2)]  # below 3/4: a sixteenth
    assert [length for *_, length in heard("A6 |", meter="6/8")] == [3]
    assert [length for *_, length in heard("M:2/4\nA8 |", meter="4/4")] == [2]


def test_a_pickup_repeats_and_endings():
    line = read("L:1/4\nG | A B c d |1 e3 :|2 f3 |")
    assert (line.pickup_beats, line.bars) == (1, 4)
    assert [(one.note.onset_beats, str(one.note.pitch)) for one in line.notes] == [
        (-1, "G4"), (0, "A4"), (1, "B4"), (2, "C5"), (3, "D5"), (4, "E5"), (7, "G4"),
        (8, "A4"), (9, "B4"), (10, "C5"), (11, "D5"), (12, "F5"),
    ]  # fmt: skip


def test_signs_fingers_and_chord_symbols():
    line = read('"Dm7"!accent!!2!D2 .F2 L[FA]2 "G7"!slide!B2 |')
    first, second, low, high, last = line.notes
    assert first.note.articulation is Articulation.ACCENT
    assert first.finger == 2
    assert second.note.articulation is Articulation.STACCATO
    assert {low.note.articulation, high.note.articulation} == {Articulation.ACCENT}
    assert last.note.slide is not None
    assert last.note.slide.from_semitones == 9 - 11  # from the A before
    assert [(one.onset_beats, one.text) for one in line.chords] == [(0, "Dm7"), (3, "G7")]


def test_loudness():
    line = read("!p!D2 F2 !f!A2 c2 |")
    assert [one.note.velocity for one in line.notes] == [60, 60, 92, 92]


def test_words_stand_below_their_notes():
    line = read("A2 B2 c2 d2 | e4 f4 |\nw: one two-three * | up\\-side~down _\n")
    words = ["one", "two-", "three", "", "up-side down", ""]
    assert [one.note.syllable for one in line.notes] == words


@pytest.mark.parametrize(
    ("text", "place", "said", "hint"),
    [
        ("A2 B2 |", "1:1", "the bar holds 2 quarter notes, and 4/4 has 4", "write rests"),
        ("A8 | B2 c2 |", "1:6", "the bar holds 2 quarter notes", "write rests"),
        ("A2 H2 B2 c2 |", "1:4", "the sign 'H' is not read", "notes are C to B"),
        ("A2 B2\n?2 c2 |", "2:1", "'?' is no sign of ABC", "notes are letters"),
        ("A4 !trill!B4 |", "1:4", "the sign !trill! is not read", "!accent!"),
        ("A4 !\u00b2!B4 |", "1:4", "the sign !\u00b2! is not read", "a finger such as !2!"),
        ("A4 {g}B4 |", "1:4", "grace notes are not read", "!slide!"),
        ("A4 & B4 |", "1:4", "a second voice is not read", "one voice"),
        ('A4 "Dm B4 |', "1:4", "the quote that opens here never closes", "Am7"),
        ("A4 B4- |", "1:4", "B4 is tied to a note that does not follow", "one pitch"),
        ("c4- [ce]4 |", "1:1", "C5 is held while other notes are struck", "let-ring"),
        ("[ce-]4 e4 |", "1:1", "E5 is held while other notes are struck", "let-ring"),
        ("A4 [CzE]4 |", "1:6", "'z' is no note of a chord", "notes only"),
        ("[C1/2/3E]8 |", "1:6", "'/' is no note of a chord", "notes only"),
        (f"[C{5000 * '1'}E]8 |", "1:11", "'1' is no note of a chord", "notes only"),
        ("!accent!z4 A4 |", "1:1", "a rest has no sign", "before a note"),
        ("A8 | !accent!", "1:6", "no note follows this sign", "right before"),
        ("V:1\nA8 |\nV:2\nB8 |", "3:3", "a second voice is not read", "one voice"),
        ("K:H\nA8 |", "1:3", "'H' is not a key", "K:G"),
        ("L:x\nA8 |", "1:3", "'x' is not a note length", "L:1/8"),
        ("A8 |\nw: one two\n", "2:8", "the syllable 'two' has no note", "has 1 note"),
        ("A8 |\nw: one\nw: two\n", "3:3", "a second line of words is not printed", "one line"),
        ("z8 |", "1:1", "the line has no notes", "write a note"),
        (">A8 |", "1:1", "no note stands before this sign", "A>B"),
        ("X:1\nK:C\nA8 |\n\nX:2\nK:C\nB8 |", "5:1", "there are 2 tunes", "number: 1"),
        ("P:AAB\nA8 |", "1:3", "the order of parts is not played", "as it is played"),
        ("A4 A4 !", "1:7", "the sign '!' is not read", "notes are C to B"),
    ],
)
def test_what_is_not_read_is_refused_with_its_place(text, place, said, hint):
    with pytest.raises(ChartFileError) as refused:
        read(text)
    error = refused.value
    assert str(error.place) == f"lick.abc:{place}"
    assert said in error.message
    assert hint in (error.hint or "")


def test_a_tune_by_its_number():
    book = "X:1\nK:C\nA8 |\n\nX:2\nK:C\nB8 |\n"
    assert names(book, number=2) == "B4"
    with pytest.raises(ChartFileError, match="no tune X:3"):
        read(book, number=3)


def test_leading_zeros_of_a_number_do_not_count():
    book = "X:01\nK:C\nA8 |\n\nX:002\nK:C\nB8 |\n"
    assert names(book, number=2) == "B4"
