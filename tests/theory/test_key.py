"""Keys: signatures, spelling, relatives, and the ways from key to key."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from genex.errors import NotationError
from genex.theory import (
    CYCLES,
    Key,
    all_keys,
    interval_between,
    key_cycle,
    parse_chord,
    transpose_chord,
)

# The circle of fifths [published: any rudiments book; package: music21 10.5.1 agrees].
_MAJOR = "Cb Gb Db Ab Eb Bb F C G D A E B F# C#"
_MINOR = "Ab Eb Bb F C G D A E B F# C# G# D# A#"
_KEYS = st.sampled_from(all_keys())


@pytest.mark.parametrize(("mode", "tonics"), [("major", _MAJOR), ("minor", _MINOR)])
def test_signatures_run_from_seven_flats_to_seven_sharps(mode: str, tonics: str) -> None:
    for fifths, tonic in enumerate(tonics.split(), start=-7):
        assert Key.parse(f"{tonic} {mode}").fifths == fifths


def test_there_are_thirty_keys() -> None:
    assert [str(key) for key in all_keys()] == [
        *(f"{tonic} major" for tonic in _MAJOR.split()),
        *(f"{tonic} minor" for tonic in _MINOR.split()),
    ]


@pytest.mark.parametrize(
    ("text", "scale"),
    [
        ("C# major", "C# D# E# F# G# A# B#"),
        ("Cb major", "Cb Db Eb Fb Gb Ab Bb"),
        ("Ab minor", "Ab Bb Cb Db Eb Fb Gb"),
        ("D# minor", "D# E# F# G# A# B C#"),
        ("G minor", "G A Bb C D Eb F"),
    ],
)
def test_scale_of_a_key(text: str, scale: str) -> None:
    assert " ".join(str(note) for note in Key.parse(text).scale) == scale


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("F", "F major"),
        ("GM", "G major"),
        ("Gm", "G minor"),
        ("A-", "A minor"),
        ("Bb min", "Bb minor"),
        ("B♭ Major", "Bb major"),
        ("f# minor", "F# minor"),
        ("E flat major", "Eb major"),
        ("e-flat minor", "Eb minor"),
        ("C-sharp minor", "C# minor"),
        (" Ebm ", "Eb minor"),
    ],
)
def test_ways_to_write_a_key(text: str, expected: str) -> None:
    assert str(Key.parse(text)) == expected


@pytest.mark.parametrize(
    ("text", "hint"),
    [
        ("g", "write G or Gm"),
        ("G# major", "Ab major"),
        ("Fb", "E major"),
        ("D-dorisch", "did you mean D dorian?"),
        ("B♭ locrian major", "write for example"),
        ("G# lydian", "Ab lydian"),
        ("h-moll", "did you mean B minor?"),
        ("B-Dur", "did you mean Bb?"),
        ("fa dièse mineur", "did you mean F# minor?"),
        ("La menor", "did you mean A minor?"),
        ("Q", "write for example"),
        ("", "write for example"),
        ("C#b", "write for example"),
    ],
)
def test_refused_keys(text: str, hint: str) -> None:
    with pytest.raises(NotationError) as caught:
        Key.parse(text)
    assert hint in (caught.value.hint or "")


@given(_KEYS)
def test_relative_key_has_the_same_signature_and_leads_back(key: Key) -> None:
    assert key.relative.fifths == key.fifths
    assert set(key.relative.scale) == set(key.scale)
    assert key.relative.relative == key


@given(_KEYS)
def test_parallel_key_has_the_same_tonic_in_sound(key: Key) -> None:
    assert key.parallel.mode != key.mode
    assert key.parallel.tonic.pitch_class == key.tonic.pitch_class


def test_parallel_of_a_key_without_one_is_respelled() -> None:
    assert str(Key.parse("Db major").parallel) == "C# minor"
    assert str(Key.parse("C minor").parallel) == "C major"


@given(_KEYS, st.integers(0, 127))
def test_spelling_keeps_the_sound_and_prefers_the_scale(key: Key, midi: int) -> None:
    pitch = key.spell(midi)
    assert pitch.midi == midi
    in_scale = {note.pitch_class: note for note in key.scale}
    assert pitch.name == in_scale.get(midi % 12, pitch.name)


def test_leading_note_of_a_minor_key() -> None:
    assert str(Key.parse("G minor").spell(66)) == "F#4"
    assert str(Key.parse("D# minor").spell(62)) == "C##4"


@given(_KEYS, _KEYS)
def test_interval_between_keys_leads_from_tonic_to_tonic(source: Key, target: Key) -> None:
    interval = interval_between(source, target)
    assert source.tonic.transpose(interval) == target.tonic
    assert -5 <= interval.semitones <= 6
    if source.mode == target.mode:
        assert tuple(note.transpose(interval) for note in source.scale) == target.scale


@given(_KEYS, st.sampled_from(CYCLES))
def test_a_cycle_visits_all_twelve_keys_with_few_accidentals(key: Key, cycle: str) -> None:
    keys = key_cycle(key, cycle)
    assert keys[0] == key
    assert {found.tonic.pitch_class for found in keys} == set(range(12))
    assert all(found.mode == key.mode for found in keys)
    assert all(abs(found.fifths) <= 6 for found in keys[1:])


@pytest.mark.parametrize(
    ("cycle", "expected"),
    [
        ("fourths", "C F Bb Eb Ab Db Gb B E A D G"),
        ("fifths", "C G D A E B F# Db Ab Eb Bb F"),
        ("chromatic", "C Db D Eb E F Gb G Ab A Bb B"),
        ("minor thirds", "C Eb Gb A Db E G Bb D F Ab B"),
        ("whole tones", "C D E F# Ab Bb Db Eb F G A B"),
    ],
)
def test_cycles_from_c(cycle: str, expected: str) -> None:
    keys = key_cycle(Key.parse("C"), cycle)
    assert " ".join(str(key.tonic) for key in keys) == expected


def test_unknown_cycle_names_the_known_ones() -> None:
    with pytest.raises(NotationError, match="there are: fourths"):
        key_cycle(Key.parse("C"), "sevenths")


@pytest.mark.parametrize(
    ("symbol", "source", "target", "expected"),
    [
        ("Dm7", "C", "Gb", "Abm7"),
        ("G7/B", "C", "Db", "Ab7/C"),
        ("Ab7", "C", "Gb", "D7"),
        ("F#dim7", "C", "C#", "Gdim7"),  # F## in theory; a chart writes G
        ("Bb6/9", "F", "E", "A6/9"),
        ("B7/D#", "Bb", "A", "Bb7/D"),  # A#7/C## in theory
        ("B7", "Bb", "A", "Bb7"),
        ("E7", "C", "F#", "A#7"),  # which leads to D#m there
    ],
)
def test_transposed_chords_read_like_a_chart(
    symbol: str, source: str, target: str, expected: str
) -> None:
    moved = transpose_chord(parse_chord(symbol), Key.parse(source), Key.parse(target))
    assert moved.symbol == expected


@given(_KEYS, _KEYS, st.sampled_from(["C7", "F#m7b5", "Bb6/9/D", "Ebmaj7/G", "Db7alt"]))
def test_transposed_chord_keeps_its_sound_and_a_readable_root(
    source: Key, target: Key, symbol: str
) -> None:
    chord = parse_chord(symbol)
    moved = transpose_chord(chord, source, target)
    shift = interval_between(source, target).semitones
    assert moved.pitch_classes == {(pitch + shift) % 12 for pitch in chord.pitch_classes}
    assert abs(moved.root.alter) <= 1
    assert parse_chord(moved.symbol).same_as(moved)


def test_major_thirds_go_on_a_semitone_higher_after_three_keys() -> None:
    # [common practice] C E Ab, then Db F A, ...
    found = [str(key.tonic) for key in key_cycle(Key.parse("C"), "major thirds")]
    assert found == "C E Ab Db F A D F# Bb Eb G B".split()
