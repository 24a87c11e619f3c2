"""Which scales suit a chord, and which one of them a key asks for."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

from genex.theory.chord import Chord
from genex.theory.functions import role_in
from genex.theory.key import Key
from genex.theory.pitch import Degree
from genex.theory.places import Place, events_of, sight_of
from genex.theory.qualities import ascending
from genex.theory.scales import SCALES, Scale

# Kind of chord -> scales from the most usual on, before any key is known [common practice].
_SUITABLE = {
    "major": "major; lydian; major pentatonic; major blues; bebop major; harmonic major; lydian #2",
    "major sharp five": "lydian augmented; ionian #5; augmented; bebop major",
    "minor": "dorian; natural minor; phrygian; minor pentatonic; blues; bebop dorian; dorian b2;"
    " melodic minor; harmonic minor; dorian #4",
    "minor triad": "natural minor; dorian; harmonic minor; melodic minor; minor pentatonic; blues;"
    " phrygian",
    "minor sixth": "melodic minor; dorian; dorian b2; bebop melodic minor; dorian #4",
    "minor major": "melodic minor; harmonic minor; hungarian minor; bebop melodic minor",
    "half-diminished": "locrian; locrian natural 2; locrian natural 6",
    "diminished": "whole-half diminished; altered bb7; locrian; locrian natural 2",
    "dominant": "mixolydian; lydian dominant; bebop dominant; mixolydian b6; blues;"
    " half-whole diminished; phrygian dominant; whole tone; altered",
    "flat nine": "half-whole diminished; phrygian dominant; altered",
    "flat thirteen": "mixolydian b6; phrygian dominant; altered; whole tone",
    "altered": "altered; half-whole diminished; phrygian dominant; whole tone",
    "sharp nine": "half-whole diminished; altered; blues",
    "augmented": "whole tone; lydian augmented; altered; ionian #5; augmented",
    "suspended": "mixolydian; dorian; major; major pentatonic; natural minor; minor pentatonic;"
    " phrygian; dorian b2; phrygian dominant",
    "second": "major; lydian; mixolydian; dorian; major pentatonic; natural minor; melodic minor",
    "power": "minor pentatonic; major pentatonic; blues; mixolydian; natural minor; dorian; major",
}
_BLUES_FITS = frozenset(("7", "9", "13", "7#9"))


@lru_cache(maxsize=8192)
def scales_for(chord: Chord, key: Key | None = None) -> tuple[Scale, ...]:
    """Scales on the chord's root that suit it, the best first; never empty.

    Every scale holds the chord tones, with three liberties of practice: the perfect fifth of a
    dominant with an altered ninth or thirteenth need not be in it (the altered scale), nor the
    natural 11 of a thirteenth chord with a major third, and over dominant sevenths the blues scale
    is offered. Scales that hold every tone come before those that take a liberty.

    Without a key the order is that of common practice for the kind of chord. With a key, the scale
    that the chord's function in the key asks for comes first, as ``analyse`` finds it for the chord
    alone; then the scales of seven or more notes, those with the fewest notes foreign to the key
    leading. Where nothing holds the chord the chromatic scale is given. A slash bass counts as a
    chord tone (C/Bb as C7).
    """
    fitting = _fitting(chord)
    if key is None:
        return fitting
    (event,), _ = events_of((Place(chord),), closed=False)
    role = role_in(key.mode, sight_of(event, key.tonic.pitch_class))
    chosen = chosen_scale(chord, role.scale, key, root=event.root)
    ranked = sorted(fitting, key=lambda scale: (len(scale.degrees) < 7, *_nearness(scale, chord, key)))
    return (chosen, *(scale for scale in ranked if scale != chosen))


@lru_cache(maxsize=8192)
def chosen_scale(chord: Chord, wanted: str, key: Key, *, root: int | None = None) -> Scale:
    """The scale named ``wanted``, or where the chord's symbol asks for other tones, one that has them.

    ``root`` is the pitch class that the wanted scale stands on, if not the chord's root; the scale
    given stands on the chord's root. Of the scales that hold the symbol's tones the one with the
    fewest notes foreign to the key is taken, of equal ones the more usual.
    """
    if wanted:
        scale = SCALES[wanted]
        if root is not None and root != chord.root.pitch_class:
            scale = _moved(scale, (chord.root.pitch_class - root) % 12) or scale
        needed = {degree.semitones % 12 for degree in _needed(_with_bass(chord))}
        if needed <= scale.semitones and not _has_both_fifths(scale, chord):
            return scale
    fitting = [scale for scale in _fitting(chord) if len(scale.degrees) >= 6 and scale.name != "blues"]
    order = {scale: index for index, scale in enumerate(fitting)}
    return min(
        fitting or _fitting(chord)[:1],
        key=lambda scale: (
            _has_both_fifths(scale, chord),
            _is_far_fetched(scale, chord, wanted),
            *_nearness(scale, chord, key),
            order.get(scale, 0),
        ),
    )


def _has_both_fifths(scale: Scale, chord: Chord) -> bool:
    """Whether a scale has the perfect fifth over a chord that asks for a raised one."""
    return Degree(5, 1) in chord.degrees and 7 in scale.semitones


def _is_far_fetched(scale: Scale, chord: Chord, wanted: str) -> bool:
    """Whether a scale has a colour that nothing in the symbol asks for."""
    if scale.name == "mixolydian b6":
        return Degree(13, -1) not in chord.degrees
    if scale.name == "half-whole diminished":
        # Its major thirteenth does not lead to a minor chord.
        return wanted == "phrygian dominant" and Degree(13) not in chord.degrees
    return scale.name == "ionian #5" or "bebop" in scale.name


def _nearness(scale: Scale, chord: Chord, key: Key) -> tuple[bool, int]:
    """Whether a scale leaves out a tone of the chord, and how many of its notes a key lacks."""
    own = {note.pitch_class for note in key.scale}
    leaves_out = not scale.holds(_with_bass(chord))
    return leaves_out, len(scale.pitch_classes(chord.root) - own)


@lru_cache(maxsize=256)
def _moved(scale: Scale, semitones: int) -> Scale | None:
    """The scale with the same notes on the note so many semitones above its root."""
    notes = frozenset((step - semitones) % 12 for step in scale.semitones)
    return next((found for found in SCALES.values() if found.semitones == notes), None)


def _fitting(chord: Chord) -> tuple[Scale, ...]:
    """The scales that suit a chord, in the order of common practice."""
    chord = _with_bass(chord)
    listed = [SCALES[name.strip()] for name in _SUITABLE[_kind(chord)].split(";")]
    needed = {degree.semitones % 12 for degree in _needed(chord)}
    fitting = [scale for scale in listed if needed <= scale.semitones or _is_blues(scale, chord)]
    if not any(needed <= scale.semitones for scale in fitting):
        fitting = [scale for scale in SCALES.values() if needed <= scale.semitones]
    fitting.sort(key=lambda scale: not (scale.holds(chord) or _is_blues(scale, chord)))
    return tuple(fitting)


def _with_bass(chord: Chord) -> Chord:
    """The chord with a foreign slash bass among its degrees, a second counted as a ninth."""
    steps = (chord.bass.step - chord.root.step) % 7
    semitones = (chord.bass.pitch_class - chord.root.pitch_class) % 12
    if chord.degree_of(chord.bass.pitch_class) is not None or steps == 0:
        return chord
    number = {1: 9, 3: 11, 5: 13}.get(steps, steps + 1)
    plain = Degree(number)
    alter = (semitones - plain.semitones + 6) % 12 - 6
    return replace(chord, degrees=ascending({*chord.degrees, Degree(number, alter)}))


def _is_blues(scale: Scale, chord: Chord) -> bool:
    return scale.name == "blues" and chord.quality in _BLUES_FITS


def _needed(chord: Chord) -> set[Degree]:
    """The chord tones that a scale must hold."""
    needed = set(chord.degrees)
    if Degree(3) in needed:
        if any(degree.number == 13 for degree in needed):
            needed.discard(Degree(11))
        if Degree(7, -1) in needed and any(d.alter and d.number in (9, 13) for d in needed):
            needed.discard(Degree(5))
    return needed


def _kind(chord: Chord) -> str:
    """The line of the table for a chord."""
    degrees = set(chord.degrees)
    third, seventh, fifth = chord.find(3), chord.find(7), chord.find(5)
    if third is None:
        if chord.find(4) is not None:
            return "suspended"
        return "second" if chord.find(2, 9) is not None else "power"
    if third.alter == -1:
        return _minor_kind(chord)
    if seventh == Degree(7, -1):
        if Degree(9, -1) in degrees and Degree(9, 1) not in degrees and fifth == Degree(5):
            return "flat nine"
        if Degree(9, 1) in degrees and fifth == Degree(5):
            return "sharp nine"
        if {Degree(9, -1), Degree(9, 1)} & degrees:
            return "altered"
        if fifth == Degree(5, 1):
            return "augmented"
        return "flat thirteen" if Degree(13, -1) in degrees else "dominant"
    if fifth == Degree(5, 1):
        return "augmented" if seventh is None else "major sharp five"
    return "major"


def _minor_kind(chord: Chord) -> str:
    seventh, fifth = chord.find(7), chord.find(5)
    if fifth == Degree(5, -1):
        return "half-diminished" if seventh == Degree(7, -1) else "diminished"
    if Degree(7) in chord.degrees:
        return "minor major"
    if chord.find(6) == Degree(6):
        return "minor sixth"
    return "minor" if seventh is not None else "minor triad"
