"""Swing as notation programs read it: valid by the official schema, and the ratio that is played."""

from __future__ import annotations

from fractions import Fraction

import pytest

from genex.export.musicxml import musicxml_text
from genex.export.xml_swing import with_swing

from .builders import small_score
from .test_musicxml import valid


@pytest.mark.parametrize(
    ("ratio", "pair", "told"),
    [
        (2.0, Fraction(1), ("2", "1", "eighth")),
        (1.65, Fraction(1), ("33", "20", "eighth")),
        (1.5, Fraction(1, 2), ("3", "2", "16th")),
    ],
)
def test_a_ratio_is_told_in_whole_numbers(ratio: float, pair: Fraction, told: tuple[str, ...]) -> None:
    """[published: MusicXML 4.0] Two to one is the triplet feel of the standard's own example."""
    root = valid(with_swing(musicxml_text(small_score()), ratio, pair))
    swings = root.findall(".//sound/swing")
    assert swings
    for swing in swings:
        assert tuple(swing.findtext(t) for t in ("first", "second", "swing-type")) == told


def test_what_does_not_swing_is_left_as_it_is() -> None:
    text = musicxml_text(small_score())
    assert with_swing(text, 1.0) == text == with_swing(text, 2.0, Fraction(2))
