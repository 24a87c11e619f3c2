"""A key in a mode in every file that writes keys."""

from __future__ import annotations

import io

import mido
import pytest

from genex.compose import compose
from genex.export.chord_chart import chart_text
from genex.export.midi import midi_bytes
from genex.export.musicxml import musicxml_text
from genex.export.tab import tab_text
from genex.recipe import parse_recipe
from genex.theory import CYCLES, Key, key_cycle

# Mode, accidentals of the signature, and what MIDI writes, which has major and minor only
# [published: definition of the modes; Standard MIDI File 1.0, key signature].
_KEYS = [
    ("D dorian", 0, "Am"),
    ("G mixolydian", 0, "C"),
    ("E phrygian", 0, "Am"),
    ("F lydian", 0, "C"),
    ("B locrian", 0, "Am"),
    ("Eb dorian", -5, "Bbm"),
    ("A mixolydian", 2, "D"),
    ("A aeolian", 0, "Am"),
    ("C ionian", 0, "C"),
]


@pytest.mark.parametrize(("name", "fifths", "midi"), _KEYS)
def test_signatures(name: str, fifths: int, midi: str) -> None:
    tonic = name.split()[0]
    score = compose(parse_recipe(f"key: {name}\nchords: {tonic}5 | N.C. |\nexercise: arpeggio")).score
    file = mido.MidiFile(file=io.BytesIO(midi_bytes(score)))
    written = {event.key for track in file.tracks for event in track if event.type == "key_signature"}
    assert written == {midi}
    xml = musicxml_text(score)
    assert f"<fifths>{fifths}</fifths>" in xml
    assert f"<mode>{name.split()[1]}</mode>" in xml
    assert f"Key: {name}" in tab_text(score)
    assert name in chart_text(score)


@pytest.mark.parametrize("name", [name for name, _, _ in _KEYS])
@pytest.mark.parametrize("cycle", CYCLES)
def test_modal_keys_go_round(name: str, cycle: str) -> None:
    keys = key_cycle(Key.parse(name), cycle)
    assert len({key.tonic.pitch_class for key in keys}) == 12
    assert {key.mode for key in keys} == {name.split()[1]}
    assert all(abs(key.fifths) <= 7 for key in keys)


def test_a_modal_recipe_in_other_keys() -> None:
    recipe = parse_recipe("key: D dorian\nchords: Dm7 | G7 |\nkeys: [Am, G dorian, Eb]")
    assert [str(version.key) for version in recipe.versions] == ["A dorian", "G dorian", "Eb dorian"]
    assert [version.suffix for version in recipe.versions] == [".A-dorian", ".G-dorian", ".Eb-dorian"]
    score = compose(recipe, recipe.versions[0]).score
    assert [str(span.chord) for span in score.timeline.chords] == ["Am7", "D7"]
    assert [reading.numeral for reading in score.timeline.readings] == ["i7", "IV7"]
