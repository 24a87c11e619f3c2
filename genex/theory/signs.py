"""The signs of chord symbols: what each part looks like, before any of it is understood.

Longer spellings stand before shorter ones. ``ma`` is no major sign in ``madd9``, nor ``o`` a
diminished sign in ``omit3``; ``j`` means major only behind a root or a minor sign (``Cj7``).
"""

from __future__ import annotations

import re

ONE_FOR_ONE = str.maketrans(
    "♭♯−–‐⁻△∆▵º˚ᵒ○Ø∅⌀⁺⁰¹²³⁴⁵⁶⁷⁸⁹⁽⁾[]{}\u00a0\u2009\u202f",
    "b#----ΔΔΔ°°°°øøø+0123456789()()()   ",
)
"""Signs that mean the same, one character for one, so that positions stay those of the input."""

ROOT = re.compile(r"([A-G])(𝄫b?|𝄪#?|x#?|b{1,3}|#{1,3}|♮)?")
MAJOR = re.compile(
    r"major|Major|MAJOR|MAJ|Maj|maj|M[Aa](?!dd|DD|ug|lt)|ma(?!dd|ug|lt)|M(?![Ii])|(?<=[A-G#bm\-])j(?=\d)|Δ"
)
MINOR = re.compile(r"minor|Minor|MINOR|MIN|Min|min(?!o\d)|MI|Mi|mi|m|-")
DIMINISHED = re.compile(r"diminished|dim|Dim|DIM|°|o(?!mit)")
HALF = re.compile(r"half-?dim(?:inished)?|hdim|ø")
AUGMENTED = re.compile(r"augmented|aug|Aug|AUG|\+")
DOMINANT = re.compile(r"dom(?:inant)?(?=\s*\d)")
SIGNS = ((DOMINANT, ""), (MAJOR, "M"), (HALF, "ø"), (DIMINISHED, "o"), (MINOR, "m"),
          (AUGMENTED, "+"))  # fmt: skip
NUMBER = re.compile(r"6\s*/\s*9|6,9|\d+")
SUS = re.compile(r"(?:sus|Sus|SUS)\s*(2\s*/\s*4|4\s*/\s*2|24|42|13|[24791]?)")
ADD = re.compile(r"(?:add|Add|ADD)\s*([b#+-]?)\s*(\d*)")
NO = re.compile(r"(?:no|No|NO|omit|Omit|OMIT)\s*(root|13|11|\d?)(?:rd|th|st|nd)?")
ALTERATION = re.compile(r"(b|#|\+|-)\s*(\d\d?)")
TENSION = re.compile(r"13|11|69|[679]")
ALTERED = re.compile(r"alt(?:ered)?|Alt|ALT")

ALTERATIONS = {
    "b5": "b5", "#5": "#5", "b9": "b9", "#9": "#9", "#11": "#11", "#4": "#11", "b13": "b13",
    "b6": "b6",
}  # fmt: skip
ADDABLE = {2: 9, 4: 11, 6: 6, 9: 9, 11: 11, 13: 13}

BASE_NUMBERS = frozenset("2 5 6 7 9 11 13".split())
"""Numbers that may stand behind the sign; 6/9 and 69 besides."""
