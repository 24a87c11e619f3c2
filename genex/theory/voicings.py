"""Voicings: a chord as spelled pitches in register, lowest first.

Styles
    close         the tones within one octave, every inversion
    drop 2        close position with the second voice from above an octave lower
    drop 3        the same with the third voice from above
    drop 2 and 4  the same with the second and the fourth voice
    shell         root, third and seventh: 1 3 7 and 1 7 3
    guide tones   third and seventh alone, either on top
    rootless A    3 5 7 9 from below; on dominants 3 13 7 9
    rootless B    7 9 3 5 from below; on dominants 7 9 3 13
    rootless      both
    triad         root, third and fifth within one octave, every inversion
    open triad    a triad with its middle voice an octave lower, every inversion
    power         root and fifth, without and with the octave

The slash bass of a chord belongs to the bass: voicings hold the chord above it. Chords of five
or more tones are thinned to four by ``essential_degrees``. Chords without a seventh take the
sixth in its place; where there is none, shell gives the triad and rootless the close triad.

Sources: D. Baker and J. Mehegan's division of left-hand voicings into the forms A and B
[memory]; drop voicings as in four-part writing for sections and guitar [common practice].
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import lru_cache

from genex.errors import NotationError
from genex.theory.chord import Chord
from genex.theory.pitch import Degree, Pitch
from genex.theory.qualities import ascending
from genex.theory.scales import Scale

Voicing = tuple[Pitch, ...]

_DROPS = {
    "close": (0, 1, 2, 3),
    "drop 2": (2, 0, 1, 3),
    "drop 3": (1, 0, 2, 3),
    "drop 2 and 4": (0, 2, 1, 3),
}
"""The voices of a four-part close chord, counted from below, in their new order from below."""

STYLES = (*_DROPS, "shell", "guide tones", "rootless", "rootless A", "rootless B", "triad", "open triad",
          "power")  # fmt: skip

_FOUR = 4


def voicings(
    chord: Chord, style: str, low_midi: int, high_midi: int, *, scale: Scale | None = None
) -> list[Voicing]:
    """Every voicing of ``chord`` in ``style`` between two MIDI numbers, both included.

    Ordered by the lowest note, then by the highest. Empty where none fits in the range. With a
    ``scale`` on the chord's root the tensions that rootless voicings add are those of the scale (b9
    and b13 of the fifth mode of harmonic minor). Raises NotationError for an unknown style.
    """
    found: dict[tuple[int, ...], Voicing] = {}
    for order in _orders(chord, style, scale):
        for voicing in _stacked(chord, order, low_midi, high_midi):
            found.setdefault(tuple(pitch.midi for pitch in voicing), voicing)
    return [found[numbers] for numbers in sorted(found, key=lambda n: (n[0], n[-1], n))]


def upper_triads(chord: Chord, low_midi: int, high_midi: int) -> list[Voicing]:
    """The close triads of a chord's tones above its root, every inversion: F A C for Dm7.

    They hold both guide tones, so that a band's bass makes the whole chord of them [common practice].
    Of a sixth chord the triad on its sixth: A C E for C6. Ordered as ``voicings`` are; none of a
    chord that has neither seventh nor sixth.
    """
    found = [
        voicing
        for turn in _inversions(_upper(chord))
        for voicing in _stacked(chord, turn, low_midi, high_midi)
    ]
    return sorted(found, key=lambda voicing: tuple(pitch.midi for pitch in voicing))


def _upper(chord: Chord) -> tuple[Degree, ...]:
    third, second = chord.guide_tones[0], chord.guide_tones[-1]
    if second.number not in (6, 7):
        return ()
    altered = [d for d in chord.degrees if d.number == 5 and d.alter]
    middle = [*altered, chord.find(5) or Degree(1)][0] if second.number == 7 else Degree(1)
    return _within_octave({third, second, middle})


@lru_cache(maxsize=4096)
def essential_degrees(
    chord: Chord, count: int = _FOUR, *, with_root: bool = False
) -> tuple[Degree, ...]:
    """At most ``count`` degrees that keep the chord's character, ascending.

    Kept first: the third or what a sus chord puts there, the seventh or sixth, altered tones,
    the highest extension. Given up first: a natural 11 beside a major third (or, in an eleventh
    chord, that third), the second of two alterations of one number (b9 beside #9), the perfect
    fifth, the root (the bass plays it, unless ``with_root``), the lower extensions.
    """
    ranked = sorted(chord.degrees, key=lambda degree: _rank(chord, degree, with_root))
    return ascending(set(ranked[:count]))


def _rank(chord: Chord, degree: Degree, with_root: bool) -> tuple[int, int]:
    """Sorting key: the smaller, the more a degree matters to the chord."""
    highest = max(d.number for d in chord.degrees)
    third, sharp_twin = chord.find(3), Degree(degree.number, 1)
    has_twin = degree.alter < 0 and degree.number in (5, 9) and sharp_twin in chord.degrees
    clash = third == Degree(3) and {Degree(7), Degree(7, -1)} & set(chord.degrees)
    clashing = 3 if highest == 11 else 11
    if has_twin or (clash and Degree(11) in chord.degrees and degree == Degree(clashing)):
        importance = 9
    elif degree.number in (2, 3, 4):
        importance = 0
    elif degree.number == 7 or (degree.number == 6 and chord.find(7) is None):
        importance = 1
    elif degree.alter:
        importance = 2
    elif degree.number > 5 and degree.number == highest:
        importance = 3
    elif degree.number == 1:
        importance = 3 if with_root else 5
    elif degree.number == 5:
        importance = 7
    else:
        importance = 4
    # Of two lower extensions the ninth stays before the eleventh; of two others the higher one.
    return importance, degree.number if importance == 4 else -degree.number


def _orders(chord: Chord, style: str, scale: Scale | None) -> list[tuple[Degree, ...]]:
    """The degrees of every form of the style, lowest voice first."""
    if style in _DROPS:
        return [_reordered(turn, _DROPS[style]) for turn in _inversions(_close_tones(chord, style))]
    if style == "shell":
        root, third, seventh = _shell(chord)
        return [(root, third, seventh), (root, seventh, third)]
    if style == "guide tones":
        first, second = chord.guide_tones[0], chord.guide_tones[-1]
        return [(first, second), (second, first)]
    if style in ("rootless", "rootless A", "rootless B"):
        return _rootless(chord, style, scale)
    if style == "triad":
        return _inversions(_triad(chord))
    if style == "open triad":
        return [_opened(turn) for turn in _inversions(_triad(chord))]
    if style == "power":
        root, fifth = Degree(1), chord.find(5) or Degree(5)
        return [(root, fifth), (root, fifth, root)]
    raise NotationError(f"'{style}' is no voicing", hint=f"there are: {', '.join(STYLES)}")


def _close_tones(chord: Chord, style: str) -> tuple[Degree, ...]:
    tones = _within_octave(essential_degrees(chord))
    # Four-part forms of a triad double its root, those of two tones stay as they are.
    return tones if len(tones) == _FOUR or style == "close" else (*tones, tones[0])


def _reordered(tones: tuple[Degree, ...], order: Sequence[int]) -> tuple[Degree, ...]:
    return tuple(tones[voice] for voice in order) if len(tones) == _FOUR else tones


def _inversions(tones: tuple[Degree, ...]) -> list[tuple[Degree, ...]]:
    """The tones from each of them upwards; a doubled lowest tone is doubled in each."""
    is_doubled = len(tones) > 2 and tones[0] == tones[-1]
    ring = tones[:-1] if is_doubled else tones
    turns = [ring[start:] + ring[:start] for start in range(len(ring))]
    return [(*turn, turn[0]) for turn in turns] if is_doubled else turns


def _within_octave(degrees: Iterable[Degree]) -> tuple[Degree, ...]:
    """Degrees in the order of their pitch classes above the root, each pitch class once."""
    by_class: dict[int, Degree] = {}
    for degree in degrees:
        by_class.setdefault(degree.semitones % 12, degree)
    return tuple(by_class[pitch_class] for pitch_class in sorted(by_class))


def _triad(chord: Chord) -> tuple[Degree, ...]:
    third = chord.find(3) or chord.find(4, 2)
    fifth = chord.find(5)
    tones = [degree for degree in (Degree(1), third, fifth) if degree is not None]
    return tuple(tones) if len(tones) > 2 else _within_octave(chord.degrees[:3])


def _opened(turn: tuple[Degree, ...]) -> tuple[Degree, ...]:
    return (turn[1], turn[0], *turn[2:]) if len(turn) == 3 else turn


def _shell(chord: Chord) -> tuple[Degree, Degree, Degree]:
    third, seventh = chord.guide_tones[0], chord.guide_tones[-1]
    if third == Degree(1):
        return Degree(1), seventh, Degree(1)
    return Degree(1), third, seventh


def _rootless(chord: Chord, style: str, scale: Scale | None) -> list[tuple[Degree, ...]]:
    third = chord.find(3) or chord.find(4, 2)
    seventh = chord.find(7) or chord.find(6)
    if third is None or seventh is None:
        return _inversions(_triad(chord))
    ninth = _ninth(chord, scale)
    middle = _fifth_or_thirteenth(chord, scale)
    form_a: tuple[Degree, ...] = (third, middle, seventh, ninth)
    form_b: tuple[Degree, ...] = (seventh, ninth, third, middle)
    return {"rootless A": [form_a], "rootless B": [form_b]}.get(style, [form_a, form_b])


def _ninth(chord: Chord, scale: Scale | None) -> Degree:
    """The ninth over which the hand lies: the chord's own, the scale's, or a major ninth.

    Over a diminished fifth the root sounds instead (a ninth over m7b5 and dim7 is a choice of
    colour), and so it does where the scale has a minor ninth over a chord that is no dominant.
    """
    own = [degree for degree in chord.degrees if degree.number == 9]
    if own:
        return own[-1]
    if Degree(5, -1) in chord.degrees and not _is_dominant(chord):
        return Degree(1)
    ninth = _of_scale(9, scale)
    return ninth if ninth.alter == 0 or _is_dominant(chord) else Degree(1)


def _fifth_or_thirteenth(chord: Chord, scale: Scale | None) -> Degree:
    own = [d for d in chord.degrees if d.number == 13 or (d.number in (5, 11) and d.alter)]
    for number in (13, 5, 11):
        for degree in reversed(own):
            if degree.number == number:
                return degree
    if _is_dominant(chord) or (chord.find(4) is not None and chord.find(7) == Degree(7, -1)):
        return _of_scale(13, scale)
    return chord.find(5) or Degree(1)


def _is_dominant(chord: Chord) -> bool:
    return Degree(3) in chord.degrees and Degree(7, -1) in chord.degrees


def _of_scale(number: int, scale: Scale | None) -> Degree:
    """The degree that a scale has, if it is flat and not natural too; else the natural one."""
    plain, flat = Degree(number), Degree(number, -1)
    if scale is None or plain.semitones % 12 in scale.semitones:
        return plain
    return flat if flat.semitones % 12 in scale.semitones else plain


def _stacked(chord: Chord, order: Sequence[Degree], low_midi: int, high_midi: int) -> list[Voicing]:
    """The voices piled up from every place of the lowest, each as near above the last as can be."""
    names = [chord.root.degree(degree) for degree in order]
    found = []
    lowest = names[0].at_or_above(low_midi)
    while lowest.midi <= high_midi:
        pile = [lowest]
        for name in names[1:]:
            pile.append(name.at_or_above(pile[-1].midi + 1))
        if pile[-1].midi <= high_midi:
            found.append(tuple(pile))
        lowest = Pitch(lowest.name, lowest.octave + 1)
    return found
