"""Grips read off the notes of a part of chords."""

from __future__ import annotations

from fractions import Fraction as F

from genex.exercises import Player, Struck
from genex.exercises.models.comping import Grips
from genex.export.held_grips import hand_changes, held_grips
from genex.lines.comping import grips_through
from tests.lines.line_charts import chart

PICKS = tuple(Struck(F(k, 2), F(1, 2), voice=k % 4) for k in range(8))


def read(text: str, rhythm: str = "quarters", **player):
    timeline = chart(text)
    part = grips_through(timeline, Grips(rhythm=rhythm), Player(**player))
    return part, held_grips(part, timeline), hand_changes(part, timeline)


def test_a_grip_is_there_once_as_long_as_it_is_held() -> None:
    _, grips, changes = read("Dm7 | % | G7 | C6")
    assert [(g.chord.symbol, g.onset_beats) for g in grips] == [("Dm7", 0), ("G7", 8), ("C6", 12)]
    assert changes == {0, 8, 12}
    for grip in grips:
        strings = [note.fretting.string for note in grip.notes]
        assert strings == sorted(strings, reverse=True) and len(strings) == 4


def test_a_grip_that_is_picked_is_put_together_again() -> None:
    _, struck, _ = read("Dm7 | G7 | C6")
    _, picked, changes = read("Dm7 | G7 | C6", "feel", comping=(PICKS,))
    assert [g.places for g in picked] == [g.places for g in struck]
    assert changes == {at + F(k, 2) for at in (0, 4, 8) for k in range(4)}, "each finger once"


def test_a_chord_struck_ahead_is_the_one_it_leads_into() -> None:
    _, grips, _ = read("Dm7 | G7 | C6 | F7", "anticipated")
    assert [g.chord.symbol for g in grips] == ["Dm7", "G7", "C6", "F7", "Dm7"]
    assert grips[1].onset_beats == F(7, 2)


def test_two_chords_of_one_grip_are_two_grips_and_no_change_of_the_hand() -> None:
    """Am7 and C6 are one set of tones [common practice]."""
    part, grips, changes = read("C6 | Am7 | C6 | Am7")
    assert [g.chord.symbol for g in grips] == ["C6", "Am7", "C6", "Am7"]
    assert len({tuple(g.places.items()) for g in grips}) == 1 and changes == {0}
    assert part.chordal
