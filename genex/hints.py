"""What to write instead: the nearest of some words. Imports nothing of genex."""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable

NEAR = 0.6
"""Share of letters that two words must have in common (``difflib`` ratio) to be taken for each other."""

_LEAST_BEGINNING = 4
_BLANKS = re.compile(r"[\s_-]+")


def nearest(word: str, options: Iterable[str], *, cutoff: float = NEAR) -> str | None:
    """The option most like ``word``, case forgotten, or None where none is like it.

    One word that the beginning of it was written for (``mixo``), or that is one of several words
    (``medium swing``), comes before one that is spelled alike.
    """
    lowered = {option.lower(): option for option in options}
    plain = word.lower()
    for option in lowered:
        if _BLANKS.sub("", option) == _BLANKS.sub("", plain):
            return lowered[option]
    if len(plain) >= _LEAST_BEGINNING:
        begun = [option for option in lowered if option.startswith(plain) and option.isalpha()]
        if len(begun) == 1:
            return lowered[begun[0]]
        parts = [part for part in _BLANKS.split(plain) if part in lowered]
        if len(parts) == 1:
            return lowered[parts[0]]
    found = difflib.get_close_matches(word.lower(), lowered, n=1, cutoff=cutoff)
    return lowered[found[0]] if found else None


def did_you_mean(word: str, options: Iterable[str]) -> str:
    """A hint that names the nearest option, or all of them where none is near."""
    known = list(options)
    near = nearest(word, known)
    return f"did you mean '{near}'?" if near else f"write one of: {', '.join(known)}"
