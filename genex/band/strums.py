"""The player's hand in a struck chord: which way it goes, and how long it takes.

On a guitar the hand swings evenly, down on the numbers and up between them: in eighths down on the
beat and up on the off-beat, in sixteenths down on every eighth, and the strokes that are left out are
made in the air [common practice]. A stroke crosses the strings in 10 to 40 ms, a hard one quicker than a
soft one; fingers on keys come down within 3 to 8 ms, the lowest first [common practice].
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from genex.exact import Fraction

GUITAR_MS = (10.0, 40.0)
KEYS_MS = (3.0, 8.0)
"""The shortest and the longest time from first to last note of a chord."""

USUAL_STRUM_MS = 6.0
"""From string to string at middling loudness, where a feel says nothing."""

_MIDDLING = 5.0
_PER_LOUDNESS = 0.12
_EIGHTH, _SIXTEENTH = Fraction(1, 2), Fraction(1, 4)


def spread_ms(loudness: float, notes: int, strum_ms: float, *, on_guitar: bool) -> float:
    """Milliseconds from the first to the last of so many notes struck together; 0 for one note.

    ``loudness`` is that of patterns, 1 to 9; ``strum_ms`` the feel's own time from string to string, 0
    for what is usual. On keys it is kept as written, if it is.
    """
    if notes < 2:
        return 0.0
    shortest, longest = GUITAR_MS if on_guitar else KEYS_MS
    if not on_guitar and strum_ms:
        return strum_ms * (notes - 1)
    slower = 1.0 - _PER_LOUDNESS * (loudness - _MIDDLING)
    if on_guitar:
        return max(shortest, min(longest, (strum_ms or USUAL_STRUM_MS) * (notes - 1) * slower))
    return max(shortest, min(longest, (shortest + longest) / 2 * slower))


def is_up(onset_beats: Fraction, pulses: Sequence[Fraction], struck: Iterable[Fraction]) -> bool:
    """Whether a stroke goes up: ``onset_beats`` inside a bar of ``pulses`` whose strokes are ``struck``.

    The hand swings in sixteenths where a stroke of the bar lies on one, else in eighths; in triplets
    every stroke off the beat goes up.
    """
    pulse = max(place for place in pulses if place <= onset_beats)
    inside = onset_beats - pulse
    if inside % _SIXTEENTH:
        return inside > 0
    unit = _EIGHTH if all(onset % _EIGHTH == 0 for onset in struck) else _SIXTEENTH
    return inside // unit % 2 == 1
