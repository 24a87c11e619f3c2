"""Voicings: their build, range, spelling, and the tones that large chords keep."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from genex.errors import NotationError
from genex.theory import SCALES, STYLES, essential_degrees, parse_chord, voicings
from genex.theory.qualities import QUALITIES


def listed(symbol: str, style: str, low: int, high: int, scale: str | None = None) -> list[str]:
    found = voicings(parse_chord(symbol), style, low, high, scale=SCALES[scale] if scale else None)
    return [" ".join(str(pitch) for pitch in voicing) for voicing in found]


def test_drop_two_of_a_major_seventh() -> None:
    """[common practice] 60-64-67-71 with its second voice from above an octave lower."""
    numbers = [[pitch.midi for pitch in v] for v in voicings(parse_chord("Cmaj7"), "drop 2", 50, 72)]
    assert [55, 60, 64, 71] in numbers


# Written out by hand [common practice].
@pytest.mark.parametrize(
    ("symbol", "style", "expected"),
    [
        ("C", "triad", "C4 E4 G4"),
        ("C", "triad", "E3 G3 C4"),
        ("C", "open triad", "E3 C4 G4"),
        ("Cmaj7", "close", "E3 G3 B3 C4"),
        ("Cmaj7", "drop 3", "E3 C4 G4 B4"),
        ("Cmaj7", "drop 2 and 4", "E3 B3 G4 C5"),
        ("G7", "shell", "G3 B3 F4"),
        ("G7", "shell", "G3 F4 B4"),
        ("C6", "shell", "C4 E4 A4"),
        ("Dm7", "rootless A", "F3 A3 C4 E4"),
        ("G7", "rootless B", "F3 A3 B3 E4"),
        ("Cmaj7", "rootless A", "E3 G3 B3 D4"),
        ("G7", "rootless A", "B3 E4 F4 A4"),
        ("G7alt", "rootless B", "F3 A#3 B3 D#4"),
        ("G7b9", "rootless B", "F3 Ab3 B3 E4"),
        ("G7b13", "rootless B", "F3 A3 B3 Eb4"),
        ("G7b5", "rootless B", "F3 A3 B3 Db4"),
        ("Bm7b5", "rootless A", "D4 F4 A4 B4"),
        ("G7", "guide tones", "F3 B3"),
        ("G5", "power", "G3 D4 G4"),
        ("Ebdim7", "close", "Gb3 Bbb3 Dbb4 Eb4"),
    ],
)
def test_known_voicings(symbol: str, style: str, expected: str) -> None:
    assert expected in listed(symbol, style, 52, 72)


def test_rootless_two_five_one_hardly_moves() -> None:
    """[common practice] forms A and B alternate in a ii-V-I: F A C E, F A B E, E G B D."""
    chords = [("Dm7", "rootless A"), ("G7", "rootless B"), ("Cmaj7", "rootless A")]
    assert [listed(symbol, style, 52, 67)[0] for symbol, style in chords] == [
        "F3 A3 C4 E4",
        "F3 A3 B3 E4",
        "E3 G3 B3 D4",
    ]


def test_a_scale_gives_the_tensions() -> None:
    # b9 and b13 on the dominant of minor, b9 and 13 from the diminished scale, no b9 on a minor
    # seventh [common practice]
    assert listed("G7", "rootless B", 52, 67, "phrygian dominant") == ["F3 Ab3 B3 Eb4"]
    assert listed("G7", "rootless B", 52, 67, "half-whole diminished") == ["F3 Ab3 B3 E4"]
    assert listed("G7", "rootless B", 52, 67, "mixolydian") == ["F3 A3 B3 E4"]
    assert listed("Em7", "rootless A", 52, 72, "phrygian") == ["G3 B3 D4 E4"]


@pytest.mark.parametrize(
    ("symbol", "kept"),
    [
        ("C9", "1 3 b7 9"),
        ("C7b9", "1 3 b7 b9"),
        ("C13", "3 b7 9 13"),
        ("C13b9", "3 b7 b9 13"),
        ("C11", "1 b7 9 11"),
        ("Cm11", "b3 b7 9 11"),
        ("Cm13", "b3 b7 9 13"),
        ("Cmaj9", "1 3 7 9"),
        ("C6/9", "1 3 6 9"),
        ("C7alt", "3 #5 b7 #9"),
        ("C7(b9,b13)", "3 b7 b9 b13"),
        ("C9sus", "1 4 b7 9"),
        ("Cm7b5", "1 b3 b5 b7"),
    ],
)
def test_tones_kept_in_four_voices(symbol: str, kept: str) -> None:
    assert " ".join(str(degree) for degree in essential_degrees(parse_chord(symbol))) == kept


def test_the_root_stays_where_no_bass_plays_it() -> None:
    chord = parse_chord("C13")
    assert " ".join(str(d) for d in essential_degrees(chord, with_root=True)) == "1 3 b7 13"


@given(
    st.sampled_from(sorted(QUALITIES)),
    st.sampled_from(["C", "F#", "Bb", "Eb", "B"]),
    st.sampled_from(STYLES),
    st.integers(36, 60),
    st.integers(0, 30),
)
def test_voicings_are_ascending_in_range_and_spelled(
    quality: str, root: str, style: str, low: int, width: int
) -> None:
    chord = parse_chord(f"{root}{quality}")
    found = voicings(chord, style, low, low + width)
    for voicing in found:
        numbers = [pitch.midi for pitch in voicing]
        assert numbers == sorted(set(numbers))
        assert low <= numbers[0]
        assert numbers[-1] <= low + width
        assert 2 <= len(voicing) <= 4
        for pitch in voicing:
            degree = chord.degree_of(pitch.pitch_class)
            if not style.startswith("rootless") and style != "power":
                assert pitch.name in chord.notes, (degree, str(pitch))
    assert len(set(found)) == len(found)
    assert found == voicings(chord, style, low, low + width)


@given(st.sampled_from(sorted(QUALITIES)), st.sampled_from(STYLES))
def test_every_quality_has_every_style_in_two_octaves(quality: str, style: str) -> None:
    assert voicings(parse_chord(f"D{quality}"), style, 48, 79)


def test_range_too_narrow_gives_none() -> None:
    assert voicings(parse_chord("C"), "close", 60, 63) == []


def test_unknown_style_names_the_known_ones() -> None:
    with pytest.raises(NotationError, match="drop 2"):
        voicings(parse_chord("C"), "drop 5", 48, 72)


# [common practice] all forms in two octaves, worked out by hand
@pytest.mark.parametrize(
    ("symbol", "style", "expected"),
    [
        # A triad in four voices doubles its lowest tone.
        ("C", "drop 2", "C3 E3 G3 E4; E3 G3 C4 G4; G3 C4 E4 C5"),
        ("C", "drop 3", "C3 G3 E4 G4; E3 C4 G4 C5"),
        ("C", "triad", "C3 E3 G3; E3 G3 C4; G3 C4 E4; C4 E4 G4; E4 G4 C5"),
        ("Csus4", "triad", "C3 F3 G3; F3 G3 C4; G3 C4 F4; C4 F4 G4; F4 G4 C5"),
        ("Bm7b5", "power", "B3 F4; B3 F4 B4"),
    ],
)
def test_all_forms_of_a_style(symbol: str, style: str, expected: str) -> None:
    low = 59 if style == "power" else 48
    assert listed(symbol, style, low, 72) == expected.split("; ")


def test_a_rootless_form_without_a_fifth_has_the_root_for_it() -> None:
    assert "E3 C4 B4 D5" in listed("Cmaj7no5", "rootless A", 50, 76)


@pytest.mark.parametrize(
    ("symbol", "count", "kept"),
    [
        # The third first, then the seventh or sixth, altered tones from the top, extensions.
        ("G7", 1, "3"),
        ("Cmaj9", 2, "3 7"),
        ("C6/9", 2, "3 6"),
        ("C7(#9,b13)", 3, "3 b7 b13"),
        ("C13", 5, "1 3 b7 9 13"),
    ],
)
def test_what_a_chord_keeps_first(symbol: str, count: int, kept: str) -> None:
    assert " ".join(str(d) for d in essential_degrees(parse_chord(symbol), count)) == kept
