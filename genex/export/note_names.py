"""Notes, chords and keys as readers name them: in English, in German, or in syllables.

german   H for B and B for B flat; notes are called Es, Fis, As; chord symbols keep their signs, as
         German charts print them: E♭, F♯m, H7, B/D [common practice]. Minor keys have a small letter:
         h-Moll [published: Duden, Die deutsche Rechtschreibung, c-Moll, h-Moll]. Octaves are written
         as by Helmholtz: E A d g h e' [published: Helmholtz 1863].
solfege  fixed do, in the spelling of the sheet's language: Si♭m7, Ré♯, Fa/La. Octaves are left away,
         since countries count them from different numbers [common practice].

Plain text keeps ``b`` and ``#`` with letters; syllables always have ♭ and ♯, as "Sib" would be read as a
word. All that is read (recipes, MusicXML, markers of MIDI files) is in English. Terms: ``languages``.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping

from genex.export.phrases import key_name
from genex.export.typography import with_signs
from genex.export.xml_chords import printed_kind
from genex.theory import Chord, Degree, Key, NoteName, Pitch

_GERMAN_STEPS = "CDEFGAH"
_GERMAN_FLATS = {"E": ("Es", "es"), "A": ("As", "as")}
"""Behind a vowel the first e is dropped; a second flat follows: Eses, Asas."""
_FLAT_B = "B"


def note_name(name: NoteName, phrases: Mapping[str, str]) -> str:
    """A note by itself: ``Bb``, ``B`` or ``Si♭``."""
    if phrases["note_names"] == "english":
        return str(name)
    if phrases["note_names"] == "solfege":
        return _syllable(name, phrases)
    letter = _GERMAN_STEPS[name.step]
    if name.alter >= 0:
        return letter + "is" * name.alter
    if letter == "H" and name.alter == -1:
        return _FLAT_B
    first, again = _GERMAN_FLATS.get(letter, (f"{letter}es", "es"))
    return first + again * (-name.alter - 1)


def root_name(name: NoteName, phrases: Mapping[str, str]) -> str:
    """The root or the bass of a chord symbol: ``Eb`` in German too."""
    if phrases["note_names"] != "german":
        return note_name(name, phrases)
    letter, alter = _GERMAN_STEPS[name.step], name.alter
    if letter == "H" and alter < 0:
        letter, alter = _FLAT_B, alter + 1
    return letter + ("#" * alter if alter > 0 else "b" * -alter)


def _syllable(name: NoteName, phrases: Mapping[str, str]) -> str:
    return phrases["syllables"].split()[name.step] + (
        "♯" * name.alter if name.alter > 0 else "♭" * -name.alter
    )


def pitch_name(pitch: Pitch, phrases: Mapping[str, str]) -> str:
    """A note with its octave where readers agree on its number: ``Bb3``, ``b``, ``Si♭``."""
    name = note_name(pitch.name, phrases)
    if phrases["note_names"] == "english":
        return str(pitch)
    if phrases["note_names"] == "solfege":
        return name
    if pitch.octave < 3:
        return name + "," * (2 - pitch.octave)
    return name.lower() + "'" * (pitch.octave - 3)


def chord_name(chord: Chord | None, phrases: Mapping[str, str]) -> str:
    """A chord symbol: ``Bbm7/F``, ``Bm7/F``, ``Si♭m7/Fa``; nothing for none."""
    if chord is None:
        return ""
    if phrases["note_names"] == "english":
        return chord.symbol
    return symbol_name(chord, printed_kind(chord), phrases)


def symbol_name(chord: Chord, kind: str, phrases: Mapping[str, str]) -> str:
    """A chord's symbol with another spelling of its kind."""
    bass = f"/{root_name(chord.bass, phrases)}" if chord.has_slash else ""
    if phrases["note_names"] == "solfege":
        kind = with_signs(kind)
    return f"{root_name(chord.root, phrases)}{kind}{bass}"


def key_words(key: Key, phrases: Mapping[str, str]) -> str:
    """``Bb major``, ``h-Moll``, ``Si♭ majeur``."""
    tonic = note_name(key.tonic, phrases)
    if phrases["note_names"] == "german" and Degree(3, -1) in key.degrees:
        tonic = tonic.lower()
    return key_name(tonic, key.mode, phrases)


def namer(phrases: Mapping[str, str]) -> Callable[[Chord], str]:
    """``chord_name`` with its phrases, to be handed on."""
    return lambda chord: chord_name(chord, phrases)
