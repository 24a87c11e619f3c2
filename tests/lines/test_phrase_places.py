"""Which chord a note belongs to."""

from fractions import Fraction

from genex.lines.phrase_places import chord_over, within_chord
from genex.score import Note
from genex.theory import Pitch
from tests.lines.line_charts import chart

HALF = Fraction(1, 2)


def test_a_note_ahead_of_the_bar_line_that_is_held_over_it_belongs_to_the_next_chord():
    timeline = chart("Dm7 | G7 | N.C. | C")
    over = [
        (Fraction(7, 2), Fraction(1), "G7"),
        (Fraction(7, 2), HALF, "Dm7"),
        (Fraction(3), Fraction(2), "Dm7"),
        (Fraction(15, 4), HALF, "G7"),
        (Fraction(15, 2), Fraction(2), "G7"),
        (Fraction(31, 2), Fraction(1), "Dm7"),
    ]
    for onset, length, symbol in over:
        assert chord_over(timeline, onset, length, Fraction(1)).symbol == symbol
    assert chord_over(timeline, Fraction(8), Fraction(1), Fraction(1)) is None


def test_a_last_note_is_let_go_where_it_is_foreign_to_the_next_chord():
    """Of C13 the natural 11 is no tone to rest on, though the symbol has it. [common practice]"""
    timeline = chart("Fmaj7 | C13")
    held = [Note(Fraction(2), Fraction(6), Pitch.parse(name)) for name in ("F4", "A4", "E4")]
    assert [within_chord(note, timeline).duration_beats for note in held] == [2, 6, 6]
