"""Strokes of the plectrum, against what guitarists teach of alternate and economy picking."""

from __future__ import annotations

import pytest

from genex.compose import compose
from genex.export.musicxml import musicxml_text
from genex.export.tab import tab_text
from tests.compose.test_own_lines import line_of, recipe_of

# Three notes on each of two strings, up and down: G, D and back.
ACROSS = """
kind: line
tab: |
  Three to a String
      e  e  e  e  e  e  e  e
  e |--------------------------|
  B |--------------------------|
  G |-----------2--4--5--------|
  D |--2--3--5-----------5--3--|
  A |--------------------------|
  E |--------------------------|
"""


def ways(exercise: str, **around: str) -> str:
    part = line_of(exercise, chords="C |", **around)
    return "".join(
        {"down": "d", "up": "u"}[note.stroke.value] if note.stroke else "-" for note in part.notes
    )


@pytest.mark.parametrize(
    ("rule", "meant"),
    [
        ("alternate", "dudududu"),
        # To the thinner string on in the same way, back with an up stroke [common practice].
        ("economy", "duddudud"),
    ],
)
def test_three_to_a_string(rule: str, meant: str) -> None:
    assert ways(f"{ACROSS.rstrip()}\nstrokes: {rule}") == meant


@pytest.mark.parametrize(
    ("abc", "meant"),
    [
        ("CDEF GABc", "dudududu"),
        ("z C z D E2 F2", "uudd"),  # off the beat up, on it down
        ("C3 D z D3", "duu"),
        ("(3CDE (3FGA B4", "dududud"),  # triplets in turn
        ("C (DE) F uG A B c", "du-uudud"),  # hammered on; what is written is gone on from
        ("[CE][DF] [EG]4 z2", "dduudd"),  # a stroke through both notes
    ],
)
def test_the_hand_keeps_time(abc: str, meant: str) -> None:
    assert ways(f"kind: line\nabc: '{abc} |'\nstrokes: alternate") == meant


def test_they_stand_under_the_tab_and_in_musicxml() -> None:
    score = compose(recipe_of(f"{ACROSS.rstrip()}\nstrokes: economy", chords="C |")).score
    rows = [line.split() for line in tab_text(score).splitlines()]
    assert list("duddudud") in rows
    text = musicxml_text(score)
    assert (text.count("<down-bow"), text.count("<up-bow")) == (5, 3)
