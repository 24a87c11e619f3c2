"""Names of notes and keys in other languages, to say what they are called here.

German: H is B, B is Bb, -is sharpens and -es flattens; French, Italian and Spanish count Do Re Mi
[common practice]. Nothing is read from these names but what strings of a tab are called; they make hints
better.
"""

from __future__ import annotations

import re
from typing import Literal

NoteNames = Literal["english", "german", "solfege"]
"""How notes are named."""

_GERMAN = re.compile(r"([A-Ha-h])(isis|eses|is|es)|([AEae])(s)(?!us)|([Hh])(?![a-z]{2})")
_SYLLABLES = {"do": "C", "dó": "C", "ut": "C", "re": "D", "ré": "D", "mi": "E", "fa": "F", "fá": "F",
              "sol": "G", "la": "A", "lá": "A", "si": "B"}  # fmt: skip
_ROMANCE = re.compile(
    rf"({'|'.join(sorted(_SYLLABLES, key=len, reverse=True))})"
    r"(?:\s*(#|♯|b(?![eé]mol)|♭|-?di[eè]se|-?b[eé]mol|-?sharp|-?flat|-?diesis|-?bemolle|-?sostenido))?",
    re.IGNORECASE,
)
_GERMAN_SIGNS = {"isis": "##", "eses": "bb", "is": "#", "es": "b", "s": "b"}
_KEY_MODES = {
    "dur": "", "major": "", "maj": "", "majeur": "", "maggiore": "", "mayor": "", "": "",
    "moll": " minor", "mol": " minor", "minor": " minor", "min": " minor", "m": " minor",
    "dorisch": " dorian", "phrygisch": " phrygian", "lydisch": " lydian",
    "mixolydisch": " mixolydian", "lokrisch": " locrian", "äolisch": " aeolian",
    "ionisch": " ionian", "dorien": " dorian", "phrygien": " phrygian", "lydien": " lydian",
    "mixolydien": " mixolydian", "mineur": " minor", "minore": " minor", "menor": " minor",
}  # fmt: skip


def english_note(text: str) -> tuple[str, str] | None:
    """The English name of the note that ``text`` begins with, and the rest of the text.

    ``Cis7`` gives C# and 7, ``Sol7`` G and 7, ``Es`` Eb; None where it is no such name.
    """
    german = _GERMAN.match(text)
    if german is not None:
        letter = (german[1] or german[3] or german[5]).upper()
        sign = _GERMAN_SIGNS.get(german[2] or german[4] or "", "")
        return ("B" if letter == "H" else letter) + sign, text[german.end() :]
    return english_syllable(text)


def english_syllable(text: str) -> tuple[str, str] | None:
    """As ``english_note``, for syllables alone."""
    romance = _ROMANCE.match(text)
    if romance is None:
        return None
    sign = (romance[2] or "").lstrip("-").lower()
    plain = "" if not sign else "b" if sign[0] in "b♭f" else "#"
    return _SYLLABLES[romance[1].lower()] + plain, text[romance.end() :]


def english_key(text: str) -> str | None:
    """``Es-Dur`` as Eb, ``fis moll`` as F# minor, ``Si bémol majeur`` as Bb; None for other text."""
    found = english_note(text.strip())
    name, rest = found or (text.strip()[:1].upper(), text.strip()[1:])
    word = re.sub(r"[\s-]+", "", rest).lower()
    if found is None and name == "B" and word in ("dur", "moll"):
        name = "Bb"
    if name not in _PLAIN_NAMES or word not in _KEY_MODES:
        return None
    return f"{name}{_KEY_MODES[word]}"


_PLAIN_NAMES = frozenset(f"{letter}{sign}" for letter in "ABCDEFG" for sign in ("", "b", "#"))
