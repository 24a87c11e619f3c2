"""Names of notes, chords and keys by local custom."""

from __future__ import annotations

import pytest

from genex.export.note_names import chord_name, key_words, note_name, pitch_name
from genex.export.phrases import language_tag, words
from genex.export.spoken import chord_in_words, name_in_words, signs_in_words
from genex.export.typography import with_signs
from genex.theory import Key, NoteName, Pitch, parse_chord

NOTES = {
    # English: German, and as they are said in French, Italian, Spanish
    # [package: music21 10.5.1, Pitch.german, .french, .italian, .spanish]
    "C": "C | do | do | do",
    "C#": "Cis | do dièse | do diesis | do sostenido",
    "Db": "Des | ré bémol | re bemolle | re bemol",
    "D": "D | ré | re | re",
    "D#": "Dis | ré dièse | re diesis | re sostenido",
    "Eb": "Es | mi bémol | mi bemolle | mi bemol",
    "E": "E | mi | mi | mi",
    "F": "F | fa | fa | fa",
    "F#": "Fis | fa dièse | fa diesis | fa sostenido",
    "Gb": "Ges | sol bémol | sol bemolle | sol bemol",
    "G": "G | sol | sol | sol",
    "G#": "Gis | sol dièse | sol diesis | sol sostenido",
    "Ab": "As | la bémol | la bemolle | la bemol",
    "A": "A | la | la | la",
    "A#": "Ais | la dièse | la diesis | la sostenido",
    "Bb": "B | si bémol | si bemolle | si bemol",
    "B": "H | si | si | si",
    "Cb": "Ces | do bémol | do bemolle | do bemol",
    "F##": "Fisis | fa double dièse | fa doppio diesis | fa doble sostenido",
    "Ebb": "Eses | mi double bémol | mi doppio bemolle | mi doble bemol",
    "Bbb": "Heses | si double bémol | si doppio bemolle | si doble bemol",
}

CHORDS = {
    # English: in German charts, in French ones, in Brazilian solfège [common practice]
    "Cmaj7": "Cmaj7 | Domaj7 | Dómaj7",
    "C#m7": "C♯m7 | Do♯m7 | Dó♯m7",
    "Db7": "D♭7 | Ré♭7 | Ré♭7",
    "Dm7": "Dm7 | Rém7 | Rém7",
    "Eb": "E♭ | Mi♭ | Mi♭",
    "E7#9": "E7♯9 | Mi7♯9 | Mi7♯9",
    "Fadd9": "Fadd9 | Faadd9 | Fáadd9",
    "F#m7b5": "F♯m7♭5 | Fa♯m7♭5 | Fá♯m7♭5",
    "G/F": "G/F | Sol/Fa | Sol/Fá",
    "Ab6": "A♭6 | La♭6 | Lá♭6",
    "Am/G#": "Am/G♯ | Lam/Sol♯ | Lám/Sol♯",
    "Bb": "B | Si♭ | Si♭",
    "Bbm7": "Bm7 | Si♭m7 | Si♭m7",
    "Bb7/Ab": "B7/A♭ | Si♭7/La♭ | Si♭7/Lá♭",
    "B": "H | Si | Si",
    "B7/D#": "H7/D♯ | Si7/Ré♯ | Si7/Ré♯",
    "C/Bb": "C/B | Do/Si♭ | Dó/Si♭",
    "E/B": "E/H | Mi/Si | Mi/Si",
    "Bbb7": "B♭7 | Si♭♭7 | Si♭♭7",
}

KEYS = {
    # English: German [published: Duden, headwords such as b-Moll and H-Dur], French [common practice]
    "Bb major": "B-Dur | Si♭ majeur",
    "Bb minor": "b-Moll | Si♭ mineur",
    "B major": "H-Dur | Si majeur",
    "B minor": "h-Moll | Si mineur",
    "F# minor": "fis-Moll | Fa♯ mineur",
    "Eb major": "Es-Dur | Mi♭ majeur",
    "Ab minor": "as-Moll | La♭ mineur",
}


@pytest.mark.parametrize("english", NOTES)
def test_notes(english: str) -> None:
    german, *said = NOTES[english].split(" | ")
    name = NoteName.parse(english)
    assert note_name(name, words("de-x-german")) == name_in_words(name, words("de-x-german")) == german
    tongues = [words(language_tag(code, "solfege")) for code in ("fr", "it", "es")]
    assert [name_in_words(name, phrases) for phrases in tongues] == said
    # What is printed is read out the same.
    printed = [signs_in_words(note_name(name, phrases), phrases).lower() for phrases in tongues]
    assert printed == said
    assert note_name(name, words("de")) == english


@pytest.mark.parametrize("english", CHORDS)
def test_chords(english: str) -> None:
    chord = parse_chord(english)
    tags = ("de-x-german", "fr-x-solfege", "pt-x-solfege")
    assert [with_signs(chord_name(chord, words(tag))) for tag in tags] == CHORDS[english].split(" | ")
    assert [chord_name(chord, words(language)) for language in ("en", "de")] == [english, english]


@pytest.mark.parametrize("english", KEYS)
def test_keys(english: str) -> None:
    found = [
        with_signs(key_words(Key.parse(english), words(t))) for t in ("de-x-german", "fr-x-solfege")
    ]
    assert found == KEYS[english].split(" | ")


def test_octaves() -> None:
    """The open strings of a guitar and of a bass, and a high note [published: Helmholtz 1863]."""
    german = [
        pitch_name(Pitch.parse(p), words("de-x-german")) for p in "E2 A2 D3 G3 B3 E4 Bb5 E1".split()
    ]
    assert german == ["E", "A", "d", "g", "h", "e'", "b''", "E,"]
    assert pitch_name(Pitch.parse("Bb3"), words("it-x-solfege")) == "Si♭"
    assert pitch_name(Pitch.parse("Bb3"), words("it")) == "Bb3"


def test_chords_said() -> None:
    assert chord_in_words(parse_chord("F#m7/E"), words("it-x-solfege")) == (
        "fa diesis minore sette con basso mi"
    )
    assert chord_in_words(parse_chord("Bm"), words("de-x-german")) == "H Moll"


def test_what_is_said_of_english_names_is_left_away_with_others() -> None:
    assert "B = H" in words("de")["tuning"] and "B = H" not in words("de-x-german")["tuning"]
    assert list(words("de-x-solfege")) == list(words("de"))
