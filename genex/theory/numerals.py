"""Writing chords as Roman numerals in a key: the way back from ``roman.py``.

The case gives the third, the suffix is that of the chord symbol (``ii7``, ``Imaj7``, ``viiø7``,
``#iv°7``). Triads and sevenths over one of their own tones have figures (``V6``, ``V65``), other
basses a slash with the degree (``IV/5``). Sixth chords are ``Iadd6``, because ``I6`` is an inversion.
In minor the degrees are those of natural minor, as textbooks have it: III, VI and VII without a
flat, and vi, vii for lower-case chords on the raised ones. In all other modes they are counted
from the major scale on the tonic. ``chord_from_numeral`` reads what is written here.
"""

from __future__ import annotations

import re

from genex.theory.chord import Chord
from genex.theory.functions import is_dark, kind_of
from genex.theory.key import Key
from genex.theory.pitch import Degree, NoteName

_NAMES = ("I", "II", "III", "IV", "V", "VI", "VII")
_FLAT = ("1", "b2", "2", "b3", "3", "4", "b5", "5", "b6", "6", "b7", "7")
_SHARP = ("1", "#1", "2", "#2", "3", "4", "#4", "5", "#5", "6", "b7", "7")
_IN_MINOR = {"b3": "3", "b6": "6", "b7": "7", "3": "#3", "6": "#6", "7": "#7"}
_IN_MINOR_LOWER = {"b3": "3", "3": "#3"}
_FIGURES = {
    False: {3: "6", 5: "64"},
    True: {3: "65", 5: "43", 7: "42"},
}  # fmt: skip
"""Whether the chord has a seventh -> number of the chord tone in the bass -> figure."""
_FIGURED = {"": ("", False), "m": ("", False), "dim": ("°", False), "7": ("", True), "m7": ("", True),
            "maj7": ("", True), "m7b5": ("ø", True), "dim7": ("°", True)}  # fmt: skip
_RAISING = frozenset(("half-diminished", "diminished"))
"""Kinds whose chromatic roots are written as raised degrees: #iv°7 and not bv°7."""


def numeral(chord: Chord, key: Key) -> str:
    """The Roman numeral of a chord in a key, by sound: Gb7 and F#7 are the same degree."""
    kind = kind_of(chord)
    head = degree_numeral(chord.root.pitch_class, key, kind, spelled=chord.root)
    return head + _suffix(chord) if not chord.has_slash else _with_bass(chord, head, key)


def secondary_numeral(chord: Chord, target: int, key: Key, *, to_kind: str) -> str:
    """``V7/ii``: the dominant of the chord on the pitch class ``target``."""
    head = "V" + (_suffix(chord) if not chord.has_slash else _figures(chord) or _suffix(chord))
    return f"{head}/{degree_numeral(target, key, to_kind)}"


def degree_numeral(
    pitch_class: int, key: Key, kind: str, *, spelled: NoteName | None = None
) -> str:
    """The numeral of a degree without a suffix, in the case of a kind of chord."""
    semitones = (pitch_class - key.tonic.pitch_class) % 12
    names = _SHARP if kind in _RAISING and not _is_flat(spelled, semitones, key) else _FLAT
    name = names[semitones]
    lower = is_dark(kind)
    if key.mode in ("minor", "aeolian"):
        name = (_IN_MINOR_LOWER if lower else _IN_MINOR).get(name, name)
    sign, number = name[:-1], int(name[-1])
    text = _NAMES[number - 1]
    return sign + (text.lower() if lower else text)


def _is_flat(spelled: NoteName | None, semitones: int, key: Key) -> bool:
    """Whether the chart spells a chromatic root as a lowered degree."""
    if spelled is None or semitones in (0, 5, 7):
        return False
    return spelled == key.tonic.degree(Degree.parse(_FLAT[semitones]))


def _suffix(chord: Chord) -> str:
    """The chord-symbol suffix behind a numeral, which tells the third by its case."""
    quality = chord.quality
    found = re.fullmatch(r"m(\d*)b5(.*)", quality)
    if found is not None:
        return f"ø{found[1] or ''}{found[2]}"
    if quality.startswith("dim"):
        return f"°{quality[3:]}"
    if quality.startswith("aug"):
        return f"+{quality[3:]}"
    if quality.startswith("m") and not quality.startswith("maj"):
        quality = quality[1:]
    if re.match(r"6(?!/9|\d)", quality):
        quality = f"add{quality}"
    return f"({quality})" if quality[:1] in ("b", "#") else quality


def _figures(chord: Chord) -> str | None:
    """The figures of an inversion, where the chord is a plain triad or seventh over its own tone."""
    degree = chord.degree_of(chord.bass.pitch_class)
    sign, has_seventh = _FIGURED.get(chord.quality, (None, False))
    if degree is None and chord.quality == "m" and _is_seventh(chord):
        return "42"
    figure = None if degree is None else _FIGURES[has_seventh].get(degree.number)
    return None if sign is None or figure is None else sign + figure


def _is_seventh(chord: Chord) -> bool:
    """Whether the bass is the minor seventh over the root."""
    return (chord.bass.pitch_class - chord.root.pitch_class) % 12 == 10


def _with_bass(chord: Chord, head: str, key: Key) -> str:
    figures = _figures(chord)
    if figures is not None:
        return head + figures
    semitones = (chord.bass.pitch_class - key.tonic.pitch_class) % 12
    name = _FLAT[semitones]
    if key.mode in ("minor", "aeolian"):
        name = _IN_MINOR.get(name, name)
    return f"{head}{_suffix(chord)}/{name}"
