"""Which scale a chord gets once its function is known [common practice]. More: ``test_scales.py``."""

from __future__ import annotations

import pytest

from genex.theory import SCALES, Degree, Key, parse_chord, scales_for
from genex.theory.chord_scales import chosen_scale
from genex.theory.qualities import QUALITIES


@pytest.mark.parametrize(
    ("symbol", "wanted", "key", "scale"),
    [
        ("G7", "mixolydian", "C", "mixolydian"),  # what is wanted holds the chord
        ("G7alt", "mixolydian", "C", "altered"),  # the symbol decides
        ("G7#11", "mixolydian", "C", "lydian dominant"),
        ("G7#5", "mixolydian", "C", "whole tone"),
        ("G13b9", "mixolydian", "C", "half-whole diminished"),
        ("G7b9", "phrygian dominant", "C minor", "phrygian dominant"),
        ("G7#9", "phrygian dominant", "C minor", "altered"),  # its thirteenth leads to minor
        ("G13#9", "phrygian dominant", "C minor", "half-whole diminished"),
        ("Cmaj7#11", "major", "C", "lydian"),
        ("Cmaj7#5", "whole tone", "C", "lydian augmented"),
        ("Ebmaj7#5", "ionian #5", "C minor", "ionian #5"),  # III+ of harmonic minor
        ("Cm6", "melodic minor", "C minor", "melodic minor"),
        ("G7b13", "mixolydian", "C", "mixolydian b6"),
        ("G7b13", "phrygian dominant", "C minor", "phrygian dominant"),
        ("C5", "", "C", "major"),  # nothing wanted: the key's notes
        ("C5", "", "C minor", "natural minor"),
    ],
)
def test_the_wanted_scale_or_what_the_symbol_asks_for(
    symbol: str, wanted: str, key: str, scale: str
) -> None:
    assert str(chosen_scale(parse_chord(symbol), wanted, Key.parse(key))) == scale


def test_a_scale_on_the_bass_is_moved_to_the_root() -> None:
    """F/G is a G9sus: G mixolydian, which is lydian from F on."""
    chord = parse_chord("F/G")
    scale = chosen_scale(chord, "mixolydian", Key.parse("C"), root=7)
    assert str(scale) == "lydian"
    assert scale.pitch_classes(chord.root) == {0, 2, 4, 5, 7, 9, 11}


def test_the_chosen_scale_holds_the_chord_whatever_is_wanted() -> None:
    """But for the fifth beside altered tones and the eleventh of a thirteenth chord."""
    for quality in QUALITIES:
        chord = parse_chord(f"C({quality})" if quality[:1] in ("b", "#") else f"C{quality}")
        for wanted in ("", "major", "mixolydian", "natural minor", "phrygian dominant", "whole tone"):
            scale = chosen_scale(chord, wanted, Key.parse("C"))
            missing = {d for d in chord.degrees if d.semitones % 12 not in scale.semitones}
            assert missing <= {Degree(5), Degree(11)}, (quality, wanted, str(scale))


def test_the_scale_of_the_key_comes_first_and_once() -> None:
    for symbol in ("G7", "Dm7", "Fm6", "A7", "C7alt"):
        found = scales_for(parse_chord(symbol), Key.parse("C"))
        assert len(set(found)) == len(found)
        assert set(found) <= set(SCALES.values())
        assert set(scales_for(parse_chord(symbol))) <= set(found)
