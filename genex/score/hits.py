"""Hits: what the whole band strikes together in a bar, with rests between.

They are written as they are counted, ``1 2& 4``: a number is a beat of the meter, ``&`` half a beat
later, ``e`` and ``a`` a quarter before and after that; ``la`` and ``li`` are triplets. A beat of a
compound meter has three parts, ``1 & a`` or ``1 la li`` [common practice].
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from genex.exact import Fraction
from genex.score.meter import Meter

SHORT_BEATS = Fraction(1, 2)
"""How long a hit lasts at the most that is not held."""
HELD_SIGN = "-"

_THIRDS = {"la": Fraction(1, 3), "li": Fraction(2, 3)}
_SIMPLE: Mapping[str, Fraction] = MappingProxyType(
    {"": Fraction(0), "e": Fraction(1, 4), "&": Fraction(1, 2), "a": Fraction(3, 4), **_THIRDS}
)
_COMPOUND: Mapping[str, Fraction] = MappingProxyType(
    {"": Fraction(0), "&": Fraction(1, 3), "a": Fraction(2, 3), **_THIRDS}
)


@dataclass(frozen=True, slots=True)
class Hit:
    """A stroke of the whole band: its onset in the bar, its length, and how it is counted."""

    onset_beats: Fraction
    length_beats: Fraction
    count: str

    @property
    def end_beats(self) -> Fraction:
        return self.onset_beats + self.length_beats

    @property
    def is_held(self) -> bool:
        return self.count.endswith(HELD_SIGN)

    @property
    def struck_count(self) -> str:
        """The count without the sign that it is held."""
        return self.count.removesuffix(HELD_SIGN)


def parts_of_beat(meter: Meter) -> Mapping[str, Fraction]:
    """What may stand behind the number of a beat, and what share of the beat it comes later."""
    return _COMPOUND if meter.is_compound else _SIMPLE


def counted_hits(onsets: Iterable[tuple[Fraction, str]], meter: Meter) -> tuple[Hit, ...]:
    """Hits from their rising onsets and counts; a held one lasts to the next, or to the bar line."""
    struck = list(onsets)
    ends = [*(onset for onset, _ in struck[1:]), meter.bar_beats]
    return tuple(
        Hit(at, end - at if count.endswith(HELD_SIGN) else min(SHORT_BEATS, end - at), count)
        for (at, count), end in zip(struck, ends, strict=bool(struck))
    )


def written_hits(hits: Iterable[Hit]) -> str:
    """As a chart writes them: ``{1 2& 4}``."""
    return "{" + " ".join(hit.count for hit in hits) + "}"
