"""Scales against music21 10.5.1, tonal 6.2.0 and mingus 0.6.1; chord scales against practice."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from genex.errors import NotationError
from genex.theory import SCALES, Degree, Key, NoteName, find_scale, parse_chord, scales_for
from genex.theory.qualities import QUALITIES

_CSV = Path(__file__).parent.parent / "data" / "scales.csv"
_ROWS = list(csv.DictReader(_CSV.read_text(encoding="utf-8").splitlines()))


@pytest.mark.parametrize("row", _ROWS, ids=[row["scale"] for row in _ROWS])
def test_scale_of_the_check_file(row: dict[str, str]) -> None:
    scale = find_scale(row["scale"])
    assert " ".join(str(degree) for degree in scale.degrees) == row["degrees"]
    assert sorted(scale.semitones) == [int(number) for number in row["pcs_from_root"].split()]


# Each mode is its parent begun on another degree [published: definition of a mode].
_MODES = {
    "major": "major; dorian; phrygian; lydian; mixolydian; natural minor; locrian",
    "melodic minor": "melodic minor; dorian b2; lydian augmented; lydian dominant; mixolydian b6;"
    " locrian natural 2; altered",
    "harmonic minor": "harmonic minor; locrian natural 6; ionian #5; dorian #4; phrygian dominant;"
    " lydian #2; altered bb7",
}


@pytest.mark.parametrize("parent", _MODES)
def test_modes_are_their_parent_from_another_degree(parent: str) -> None:
    steps = sorted(SCALES[parent].semitones)
    for start, name in zip(steps, _MODES[parent].split(";"), strict=True):
        assert SCALES[name.strip()].semitones == {(step - start) % 12 for step in steps}, name


@pytest.mark.parametrize(
    ("name", "root", "notes"),
    [
        ("altered", "G", "G Ab A# B Db Eb F"),
        ("lydian dominant", "Db", "Db Eb F G Ab Bb Cb"),
        ("harmonic minor", "F#", "F# G# A B C# D E#"),
        ("whole-half diminished", "B", "B C# D E F G G# A#"),
        ("blues", "A", "A C D Eb E G"),
    ],
)
def test_spelled_scales(name: str, root: str, notes: str) -> None:
    assert " ".join(map(str, find_scale(name).notes(NoteName.parse(root)))) == notes


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("Ionian", "major"),
        ("LYDIAN ♭7", "lydian dominant"),
        ("whole-half diminished", "whole-half diminished"),
        ("half whole diminished", "half-whole diminished"),
        ("super locrian", "altered"),
        ("dorian scale", "dorian"),
        ("jazz minor", "melodic minor"),
    ],
)
def test_names_and_synonyms(text: str, name: str) -> None:
    assert find_scale(text).name == name


def test_unknown_scale_suggests_the_nearest() -> None:
    with pytest.raises(NotationError, match="did you mean mixolydian"):
        find_scale("mixolidian")


# First choices that method books agree on [common practice].
@pytest.mark.parametrize(
    ("symbol", "key", "first"),
    [
        ("Cmaj7", None, "major"),
        ("Cmaj7#11", None, "lydian"),
        ("Cmaj7#5", None, "lydian augmented"),
        ("Cm7", None, "dorian"),
        ("Cm6", None, "melodic minor"),
        ("CmMaj7", None, "melodic minor"),
        ("Cm7b5", None, "locrian"),
        ("Cm9b5", None, "locrian natural 2"),
        ("Cdim7", None, "whole-half diminished"),
        ("C7", None, "mixolydian"),
        ("C13", None, "mixolydian"),
        ("C7#11", None, "lydian dominant"),
        ("C7b9", None, "half-whole diminished"),
        ("C13b9", None, "half-whole diminished"),
        ("C7(b9,b13)", None, "phrygian dominant"),
        ("C7b13", None, "mixolydian b6"),
        ("C7#5", None, "whole tone"),
        ("C7alt", None, "altered"),
        ("C7#5#9", None, "altered"),
        ("C9sus", None, "mixolydian"),
        ("C7susb9", None, "phrygian"),
        ("C5", None, "minor pentatonic"),
        ("C/Bb", None, "mixolydian"),
        ("C/B", None, "major"),
        ("Am/G", "C", "natural minor"),
        ("F/G", "C", "lydian"),
        ("D/C", "C", "mixolydian"),
        ("Dm7", "C", "dorian"),
        ("Em7", "C", "phrygian"),
        ("Em7", "D", "dorian"),
        ("Fmaj7", "C", "lydian"),
        ("G7", "C", "mixolydian"),
        ("Am7", "C", "natural minor"),
        ("Bm7b5", "C", "locrian"),
        ("Bdim7", "C", "whole-half diminished"),
        ("G7", "C minor", "phrygian dominant"),
        ("E7", "C", "phrygian dominant"),
        ("Bb7", "C", "lydian dominant"),
        ("Db7", "C", "lydian dominant"),
        ("D7", "C", "mixolydian"),
        ("Abmaj7", "C minor", "lydian"),
        ("Bdim7", "C minor", "altered bb7"),
    ],
)
def test_first_chord_scale(symbol: str, key: str | None, first: str) -> None:
    scales = scales_for(parse_chord(symbol), Key.parse(key) if key else None)
    assert scales[0].name == first


@given(
    st.sampled_from(sorted(QUALITIES)),
    st.sampled_from(["C", "F#", "Bb", "Eb"]),
    st.sampled_from([None, "C", "Eb minor", "B"]),
)
def test_every_quality_has_a_scale_and_the_first_fits(quality: str, root: str, key: str | None) -> None:
    chord = parse_chord(root + (f"({quality})" if quality[:1] in ("b", "#") else quality))
    scales = scales_for(chord, Key.parse(key) if key else None)
    assert scales
    assert len(set(scales)) == len(scales)
    spared = {Degree(5), Degree(11)}
    for scale in scales:
        if scale.name == "blues":
            continue
        missing = {d for d in chord.degrees if d.semitones % 12 not in scale.semitones}
        assert missing <= spared, (scale.name, missing)


def test_a_foreign_slash_bass_lies_in_every_scale() -> None:
    for symbol in ("C/Bb", "C/D", "Am/F#", "Gm7/C", "E/F", "D/Eb", "C/Db", "Cm/D", "C7/F#"):
        chord = parse_chord(symbol)
        for scale in scales_for(chord):
            assert chord.bass.pitch_class in scale.pitch_classes(chord.root), (symbol, scale.name)


def test_a_chord_that_no_scale_holds_gets_the_chromatic_one() -> None:
    assert [scale.name for scale in scales_for(parse_chord("Cm7b5(#5,b9,#9,13)"))] == ["chromatic"]


# Without a key, from the most usual on [common practice].
@pytest.mark.parametrize(
    ("symbol", "first"),
    [
        ("C7b9", "half-whole diminished"),
        ("C7#9", "half-whole diminished"),
        ("C7#5b9", "altered"),
        ("C7(b5,b9)", "altered"),
        ("C7b13", "mixolydian b6"),
        ("C7b9b13", "phrygian dominant"),
        ("C13b9", "half-whole diminished"),
        ("C7#5", "whole tone"),
        ("Caug", "whole tone"),
        ("Cmaj7#5", "lydian augmented"),
        ("Cmmaj7", "melodic minor"),
        ("Cm6", "melodic minor"),
        ("Cm", "natural minor"),
        ("Cm7", "dorian"),
        ("Cdim", "whole-half diminished"),
        ("Cm7b5", "locrian"),
    ],
)
def test_scales_of_a_kind_of_chord(symbol: str, first: str) -> None:
    assert scales_for(parse_chord(symbol))[0].name == first


def test_an_altered_ninth_or_thirteenth_lets_the_perfect_fifth_go_and_nothing_else_does() -> None:
    # [common practice] the altered scale over C7b9: it has Gb and Ab, and no G.
    assert "altered" in {scale.name for scale in scales_for(parse_chord("C7b9"))}
    fifth = 7
    for symbol in ("C7", "C9", "C13", "Cmaj7#11", "Cm7"):
        for scale in scales_for(parse_chord(symbol)):
            assert fifth in scale.semitones or scale.name == "blues", (symbol, scale.name)


@pytest.mark.parametrize(("bass", "degree"), [("D", "9"), ("F", "11"), ("A", "13"), ("Bb", "b7")])
def test_a_slash_bass_is_the_degree_it_sounds(bass: str, degree: str) -> None:
    chord = parse_chord(f"C/{bass}")
    assert all(Degree.parse(degree).semitones % 12 in scale.semitones for scale in scales_for(chord))
