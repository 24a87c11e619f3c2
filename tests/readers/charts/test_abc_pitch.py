"""Pitches of letters in ABC, by the rules of the standard [published: ABC standard v2.1]."""

from __future__ import annotations

from fractions import Fraction as F

import pytest

from genex.errors import NotationError
from genex.readers.charts.abc_pitch import NOTE, AbcPitches
from genex.theory import Key


def sounding(bars: str, key: str = "G", *directives: str, field: str | None = None) -> list[list[str]]:
    pitches = AbcPitches(Key.parse(key))
    for one in directives:
        assert pitches.directive(one)
    if field is not None:
        pitches.set_key(field)
    found = []
    for bar in bars.split("|"):
        heads = list(NOTE.finditer(bar))
        names = [pitches.pitch(head, F(number, 2)) for number, head in enumerate(heads)]
        found.append([str(name) for name in names])
        pitches.end_bar({name for name, head in zip(names, heads, strict=True) if head[5]})
    return found


@pytest.mark.parametrize(
    ("bars", "how", "wanted"),
    [
        ("Ff=Ff|f", {}, [["F#4", "F#5", "F4", "F5"], ["F#5"]]),
        ("=Ff", {"directives": ["%%propagate-accidentals octave"]}, [["F4", "F#5"]]),
        ("=FF", {"directives": ["I:propagate-accidentals not"]}, [["F4", "F#4"]]),
        ("^c-|cc", {}, [["C#5"], ["C#5", "C5"]]),
        ("C,c'^^C__D", {}, [["C3", "C6", "C##4", "Dbb4"]]),
        ("CF", {"field": "D exp _b ^g"}, [["C4", "F4"]]),
        ("BG", {"field": "D exp _b ^g"}, [["Bb4", "G#4"]]),
        ("CB", {"field": "F octave=-1"}, [["C3", "Bb3"]]),
        ("CB", {"field": "clef=treble-8"}, [["C3", "B3"]]),
    ],
)  # fmt: skip
def test_pitches(bars, how, wanted):
    assert sounding(bars, "G", *how.get("directives", ()), field=how.get("field")) == wanted


@pytest.mark.parametrize("value", ["Hp", "H dorian"])
def test_keys_that_are_not_read(value):
    with pytest.raises(NotationError, match=r"not read|not a key"):
        AbcPitches().set_key(value)
