"""What can be sung back: calls are held to it, so that an ear can take them before the hand does.

Within a tenth, one leap beyond a fifth at the most, which lands on a chord tone or goes on by step,
and a chord tone at the end [common practice: vocal writing and melodic dictation].
"""

from __future__ import annotations

from itertools import pairwise

from genex.lines.phrase import Phrase
from genex.lines.vocabulary import Kind

WIDEST_SEMITONES = 16
"""A major tenth."""
FIFTH_SEMITONES, STEP_SEMITONES = 7, 2


def can_be_sung(phrase: Phrase) -> bool:
    """Whether a phrase can be sung back by one who hears it."""
    midis = [note.midi for note in phrase.notes]
    if max(midis) - min(midis) > WIDEST_SEMITONES or phrase.kinds[-1] is not Kind.CHORD:
        return False
    leaps = [n for n, (a, b) in enumerate(pairwise(midis), start=1) if abs(b - a) > FIFTH_SEMITONES]
    return len(leaps) <= 1 and all(_is_resolved(phrase, midis, landing) for landing in leaps)


def _is_resolved(phrase: Phrase, midis: list[int], landing: int) -> bool:
    """Whether the note that a leap lands on is a chord tone or goes on by step."""
    if phrase.kinds[landing] is Kind.CHORD:
        return True
    return landing + 1 < len(midis) and 1 <= abs(midis[landing + 1] - midis[landing]) <= STEP_SEMITONES
