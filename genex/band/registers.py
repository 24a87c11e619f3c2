"""Where a chord player's voicings lie: registers in which chords move little, and the voicing there."""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

from genex.band.groove import CompingRules
from genex.band.kit import COMPING_GUITARS
from genex.band.playable_voicings import Voicing, candidates, movement
from genex.theory import Chord, Key, Scale, parse_chord, scales_for

_TOP_ABOVE_CENTRE = 7
_TOP_WEIGHT = 0.2
_STYLE_STEP = 0.6
_FRET_WEIGHT = 0.05
_MUTE_COST = 0.3
_COMFORTABLE_FRET = 5
_DIATONIC = {
    "major": ("- maj7", "m m7", "m m7", "- maj7", "- 7", "m m7", "dim m7b5"),
    "minor": ("m m7", "dim m7b5", "- maj7", "m m7", "- 7", "- maj7", "- 7"),
}
"""Triad and seventh chord on each degree; the minor key with its major dominant."""

_SUCCESSIONS = tuple(
    (int(pair[0]), int(pair[1])) for pair in "14 45 51 16 62 25 15 56 64 36 41 73".split()
)
"""Steps between the degrees of seventh chords that harmony takes most [common practice]."""

_TRIAD_SUCCESSIONS = ((1, 4), (4, 5), (5, 1), (1, 6), (6, 4), (1, 5), (5, 6), (4, 1))
"""The same among triads."""

_BLUES_SUCCESSIONS = ((1, 4), (4, 1), (1, 5), (5, 4))
"""The same among the dominant sevenths of a blues."""

_TRIADIC = frozenset(("triad", "open triad", "open", "power"))
_HOME_SEARCH = 3
_HOME_PULL = 0.04
_HOME_SLACK = 0.06
LEAD_GAP = 9
"""Comping lies so many semitones below or above the middle of a lead line."""


def clear_of(centre: int, lead_range: tuple[int, int] | None) -> int:
    """The register's centre, moved away from the middle of a lead line."""
    if lead_range is None:
        return centre
    middle = sum(lead_range) // 2
    if middle >= centre:
        return max(54, min(centre, middle - LEAD_GAP))
    return min(66, max(centre, middle + LEAD_GAP))


def lead_to(
    chord: Chord, scale: Scale | None, rules: CompingRules, centre: float, before: Voicing | None
) -> Voicing:
    """The voicing of a chord whose middle and top lie nearest to a register.

    Inside a bar the movement from the chord before counts too.
    """
    return _nearest(
        candidates(chord, scale, rules.voicings, on_guitar=rules.instrument in COMPING_GUITARS),
        rules.voicings,
        centre,
        before,
    )


def _nearest(
    found: Sequence[Voicing], styles: tuple[str, ...], centre: float, before: Voicing | None = None
) -> Voicing:
    """The voicing nearest to a register, preferring the first styles and an easy hand."""

    def cost(voicing: Voicing) -> float:
        top = voicing.midi[-1] - centre - _TOP_ABOVE_CENTRE
        value = abs(voicing.mean_midi - centre) + _TOP_WEIGHT * abs(top)
        if voicing.style in styles:
            value += _STYLE_STEP * styles.index(voicing.style)
        if voicing.frettings:
            value += _MUTE_COST * voicing.has_muted_string
            value += _FRET_WEIGHT * abs(voicing.mean_fret - _COMFORTABLE_FRET)
        if before is not None:
            value += 1.5 * movement(before.midi, voicing.midi)
        return value

    return min(found, key=lambda voicing: (cost(voicing), voicing.midi))


@lru_cache(maxsize=256)
def home_centres(
    key: Key, styles: tuple[str, ...], centre: int, *, on_guitar: bool
) -> tuple[float, ...]:
    """Registers about ``centre`` in which the chords of a key lie nearest to each other.

    For every register within three semitones the chords that belong to the key are voiced there
    and their common successions measured; kept are the smoothest one and those nearly as smooth.
    """
    key = key.plain
    suffixes = [pair.split() for pair in _DIATONIC[key.plain_mode]]
    triads, sevenths = (
        [f"{name}{pair[kind].strip('-')}" for name, pair in zip(key.scale, suffixes, strict=True)]
        for kind in (0, 1)
    )
    steps = [(triads[a - 1], triads[b - 1]) for a, b in _TRIAD_SUCCESSIONS]
    if not set(styles) <= _TRIADIC:
        steps += [(sevenths[a - 1], sevenths[b - 1]) for a, b in _SUCCESSIONS]
        steps += [(f"{key.scale[a - 1]}7", f"{key.scale[b - 1]}7") for a, b in _BLUES_SUCCESSIONS]
    chords = {symbol: parse_chord(symbol) for step in steps for symbol in step}
    found = {
        symbol: candidates(chord, scales_for(chord, key)[0], styles, on_guitar=on_guitar)
        for symbol, chord in chords.items()
    }
    smoothness = []
    for shift in range(-_HOME_SEARCH, _HOME_SEARCH + 1):
        lying = {
            symbol: _nearest(voiced, styles, centre + shift).midi for symbol, voiced in found.items()
        }
        total = sum(movement(lying[a], lying[b]) for a, b in steps) / len(steps)
        smoothness.append((total + _HOME_PULL * abs(shift), shift))
    best = min(smoothness)[0]
    return tuple(float(centre + shift) for value, shift in smoothness if value <= best + _HOME_SLACK)
