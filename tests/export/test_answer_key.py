"""Passages of a line in one row of text, read against the notes by hand."""

from fractions import Fraction

from genex.export.answer_key import passage, value_legend
from genex.export.phrases import words
from genex.score import Note, Part, Role, Score
from genex.theory import Pitch
from tests.lines.line_charts import chart


def test_a_passage():
    notes = [
        Note(Fraction(onset), Fraction(length), Pitch.parse("C4"), 80)
        for onset, length in ((0, "3/2"), ("3/2", "1/2"), (3, 2), (8, 4))
    ]
    score = Score("Kettle", "", chart("C | F G | C"), (Part.of("call", Role.LEAD, 26, notes),))
    told = passage(score, Fraction(0), Fraction(8), words())
    assert told.bars == "bars 1-2"
    assert told.chords == "C | F G"
    assert told.rhythm == "q. e rq q | ~q rq rh"
    assert value_legend(told.values, words()) == "h half, q quarter, e eighth"
    one = passage(score, Fraction(8), Fraction(4), words())
    assert (one.bars, one.chords, one.rhythm) == ("bar 3", "C", "w")
