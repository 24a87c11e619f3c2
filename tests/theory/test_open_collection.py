"""Folk tunes with the chords of those who wrote them down: no scale is stranger than it need be.

The two tunes with chord symbols of the Nottingham Music Database that come with music21
[package: music21 10.5].
"""

from __future__ import annotations

import re
from pathlib import Path

import music21
import pytest

from genex.theory import SCALES, Chord, Key, Place, Scale, analyse, parse_chord

TUNES = Path(music21.__file__).parent / "corpus" / "nottingham-dataset" / "reelsa-c.abc"
# What handbooks use every day: the modes of major, the minors, the dominants of minor and of
# melodic minor [common practice].
USUAL = [
    SCALES[name]
    for name in (
        "major", "dorian", "phrygian", "lydian", "mixolydian", "natural minor", "locrian",
        "harmonic minor", "melodic minor", "phrygian dominant", "lydian dominant",
    )
]  # fmt: skip


def tunes() -> list[tuple[Key, list[Chord]]]:
    """Key and chords of each tune. In ABC a chord stands in quotes, its bass in small letters."""
    found = []
    for tune in re.split(r"\n(?=X:)", TUNES.read_text("latin-1")):
        key = re.search(r"^K:\s*([A-G][#b]?)(m?)", tune, re.MULTILINE)
        assert key is not None
        chords = []
        for root, rest, bass in re.findall(r'"([A-G])([^"/]*)(?:/([a-g][+b]?))?"', tune[key.end() :]):
            symbol = root + rest + (f"/{bass[0].upper()}{bass[1:]}" if bass else "")
            chords.append(parse_chord(symbol.replace("+", "#")))
        found.append((Key.parse(f"{key[1]}{' minor' if key[2] else ' major'}"), chords))
    return found


def foreign(scale: Scale, chord: Chord, key: Key) -> int:
    """Notes of a scale that a key lacks."""
    return len(scale.pitch_classes(chord.root) - {name.pitch_class for name in key.scale})


@pytest.mark.parametrize("number", range(2))
def test_no_chord_of_a_folk_tune_has_a_scale_stranger_than_a_usual_one(number: int) -> None:
    key, chords = tunes()[number]
    assert len(chords) > 15
    for reading in analyse([Place(chord) for chord in chords], key).readings:
        assert reading.chord is not None and reading.scale is not None
        least = min(foreign(s, reading.chord, key) for s in USUAL if s.holds(reading.chord))
        assert foreign(reading.scale, reading.chord, key) <= least, reading
