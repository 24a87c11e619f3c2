"""What to write instead: the nearest of some words. Imports nothing of genex."""

from __future__ import annotations

import difflib
from collections.abc import Iterable

NEAR = 0.6
"""Share of letters that two words must have in common (``difflib`` ratio) to be taken for each other."""


def nearest(word: str, options: Iterable[str], *, cutoff: float = NEAR) -> str | None:
    """The option most like ``word``, case forgotten, or None where none is like it."""
    lowered = {option.lower(): option for option in options}
    found = difflib.get_close_matches(word.lower(), lowered, n=1, cutoff=cutoff)
    return lowered[found[0]] if found else None


def did_you_mean(word: str, options: Iterable[str]) -> str:
    """A hint that names the nearest option, or all of them where none is near."""
    known = list(options)
    near = nearest(word, known)
    return f"did you mean '{near}'?" if near else f"write one of: {', '.join(known)}"
