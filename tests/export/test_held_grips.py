"""The grips of a part of chords, as pages show them."""

from __future__ import annotations

from fractions import Fraction as F

import pytest

from genex.exercises import Player, Struck
from genex.exercises.models.comping import Grips
from genex.export.held_grips import grips_by_section, hand_changes
from genex.lines.comping import grips_through
from tests.lines.line_charts import chart

PICKS = tuple(Struck(F(k, 2), F(1, 2), voice=k % 3) for k in range(8))


def read(text: str, rhythm: str = "quarters", **fields):
    timeline = chart(text)
    comping = fields.pop("comping", ())
    part = grips_through(timeline, Grips(rhythm=rhythm, **fields), Player(comping=comping))
    (section,) = grips_by_section(part, timeline)
    return part, section.grips, hand_changes(part)


@pytest.mark.parametrize("rhythm", ["quarters", "anticipated", "charleston"])
def test_a_grip_is_there_once_as_long_as_it_is_held(rhythm: str) -> None:
    part, grips, changes = read("Dm7 | % | G7 | C6", rhythm)
    shown = [(each.chord.symbol, each.bar.number) for each in grips]
    assert shown == [("Dm7", 1), ("G7", 3), ("C6", 4)]
    ahead = F(1, 2) if rhythm == "anticipated" else 0
    assert changes == {0, 8 - ahead, 12 - ahead}
    for each in grips:
        assert len(each.held.places) == 4
        struck = [n for n in part.notes if n.fretting.string in each.held.places]
        assert struck


def test_a_grip_that_is_picked_is_whole_whatever_is_picked() -> None:
    _, struck, _ = read("Dm7 | G7 | C6")
    part, picked, changes = read("Dm7 | G7 | C6", "feel", comping=(PICKS,))
    assert [each.held.places for each in picked] == [each.held.places for each in struck]
    assert {len(each.held.places) for each in picked} == {4}, "the fourth string is held, not picked"
    assert changes == {at + F(k, 2) for at in (0, 4, 8) for k in range(3)}, "each finger once"
    assert len({note.fretting.string for note in part.notes if note.onset_beats < 4}) == 3


def test_two_chords_of_one_grip_are_two_grips_and_no_change_of_the_hand() -> None:
    """Am7 and C6 are one set of tones [common practice]."""
    _, grips, changes = read("C6 | Am7 | C6 | Am7")
    assert [each.chord.symbol for each in grips] == ["C6", "Am7", "C6", "Am7"]
    assert len({tuple(each.held.places.items()) for each in grips}) == 1 and changes == {0}


def test_open_chords_that_are_picked_show_all_their_strings() -> None:
    waltz = (Struck(F(0), F(1), voice=0), Struck(F(1), F(1), voice=3), Struck(F(2), F(1), voice=4))
    _, grips, _ = read("C | Em", "feel", voicings=("open",), comping=(waltz,))
    assert [sorted(each.held.places) for each in grips] == [[1, 2, 3, 4, 5], [1, 2, 3, 4, 5, 6]]
