"""What a player says to count: ``1 & 2 &``, ``1 e & a``, ``1 la li`` [common practice]."""

from __future__ import annotations

from types import MappingProxyType

SYLLABLES = MappingProxyType(
    {
        1: ("",),
        2: ("", "&"),
        3: ("", "la", "li"),
        4: ("", "e", "&", "a"),
        5: ("", "2", "3", "4", "5"),
        6: ("", "ta", "la", "ta", "li", "ta"),
    }
)
"""By the notes that divide a beat; the first of them is the beat's number."""


def syllable(beat: int, division: int, place: int) -> str:
    """The syllable at a place, from 0, of a beat that is counted as number ``beat``, from 1."""
    return SYLLABLES[division][place] or str(beat)
