"""Swing in MusicXML: written eighths stay even, and the file says how they are played.

``swing`` in a ``sound`` element [published: MusicXML 4.0, swing, first, second, swing-type]: a pair of
notes is played as ``first`` to ``second``.
"""

from __future__ import annotations

import re

from genex.exact import Fraction

_TEMPO = re.compile(r'<sound tempo="([^"]*)" ?/>')
_TYPES = {Fraction(1): "eighth", Fraction(1, 2): "16th"}
"""What is swung, by the length of a pair in beats."""
MOST_PARTS = 20
"""A ratio is told in whole numbers up to this: 1.65 is 33 to 20."""


def with_swing(document: str, ratio: float, pair_beats: Fraction = Fraction(1)) -> str:
    """A document whose tempo marks say that pairs are played as ``ratio`` to one.

    As it was where nothing swings, or where what swings is neither eighths nor sixteenths.
    """
    kind = _TYPES.get(pair_beats)
    parts = Fraction(f"{ratio:.4f}").limit_denominator(MOST_PARTS)
    if kind is None or parts <= 1:
        return document
    told = (
        f"<swing><first>{parts.numerator}</first><second>{parts.denominator}</second>"
        f"<swing-type>{kind}</swing-type></swing>"
    )
    return _TEMPO.sub(lambda found: f'<sound tempo="{found[1]}">{told}</sound>', document)
