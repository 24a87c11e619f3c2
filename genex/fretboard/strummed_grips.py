"""Open and barre chords: every string sounds from the bass up, as a strum takes them.

Rules [common practice]: the lowest string has the root, or the bass of a slash chord; all strings
above it sound, and all tones of the chord, a perfect fifth left out where there are more than three.
An open chord lies in the first frets and has at least one open string; in a barre chord the first
finger lies across from the bass to string 1. Of all that one bass string allows, the easiest hand
wins; then fewer doubled thirds, which ring harsh, and a root, third or fifth above the bass, for a
fourth or seventh growls there. A chord has one open form, and a barre form for
each bass string.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import product

from genex.fretboard.grip import Grip, named_grip
from genex.fretboard.held import HeldChord, held_chord
from genex.fretboard.tunings import Hand, Tuning
from genex.theory import Chord, Degree, essential_degrees

STRUMMED = ("open", "barre")
_FEWEST_STRINGS = 4
_OPEN_FRETS = 4
_FRETS_A_HAND = 4
_HIGHEST_BARRE = 11
_DOUBLED_THIRD, _NO_FIFTH, _MUTED_STRING, _GROWLS = 15, 35, 40, 90
_HARDEST = {"open": 250, "barre": 500}
"""What costs more is nobody's form of the chord."""


def strummed_grips(
    chord: Chord, tuning: Tuning, kind: str, *, hand: Hand | None = None
) -> Iterator[Grip]:
    """The open form of a chord, or its barre forms from the lowest bass string on.

    ``kind`` is ``open`` or ``barre``; nothing where the chord has none.
    """
    forms = list(_forms(chord, tuning, kind, hand))
    if kind == "open":
        forms = [min(forms, key=lambda form: form[0])] if forms else []
    for _, held in forms:
        yield named_grip(kind, chord, tuning, held)


def _forms(
    chord: Chord, tuning: Tuning, kind: str, hand: Hand | None
) -> Iterator[tuple[int, HeldChord]]:
    """The best of each bass string with its cost, from the lowest."""
    tones, needed = _tones(chord)
    count = len(tuning.strings)
    has_order = list(tuning.low_to_high) == list(range(count, 0, -1))
    lowest = range(count, _FEWEST_STRINGS - 1, -1) if has_order else range(count, count - 1, -1)
    for bass in lowest:
        found: list[tuple[int, tuple[int, ...], HeldChord]] = []
        for frets in _choices(chord, tuning, kind, bass, tones, any_bass=not has_order):
            shape = dict(zip(range(bass, 0, -1), frets, strict=True))
            midis = [tuning.open_midi[s - 1] + fret for s, fret in shape.items()]
            sounding = [midi % 12 for midi in midis]
            if not needed <= set(sounding) or len(set(midis)) < len(midis):
                continue  # a unison says nothing and costs a finger
            held = held_chord(shape, tuning, hand=hand)
            if held is None or held.cost > _HARDEST[kind]:
                continue
            if kind == "barre" and not _is_barred(held, bass):
                continue
            thirds = sum(chord.degree_of(tone) == Degree(3) for tone in sounding)
            cost = held.cost + _DOUBLED_THIRD * max(0, thirds - 1)
            cost += _NO_FIFTH * (not tones <= set(sounding))
            second = chord.degree_of(sounding[1])
            cost += _GROWLS * (second is not None and second.number not in (1, 3, 5))
            found.append((cost, frets, held))
        if found:
            cost, _, held = min(found, key=lambda each: each[:2])
            yield cost + _MUTED_STRING * (count - bass), held


def _tones(chord: Chord) -> tuple[frozenset[int], frozenset[int]]:
    """Pitch classes that may sound, and those that must."""
    kept = essential_degrees(chord, with_root=True)
    spared = {Degree(5)} if len(kept) > 3 else set()
    fifth = chord.find(5)
    degrees = {*kept, Degree(1), *([] if fifth is None else [fifth])}

    def classes(wanted: set[Degree]) -> frozenset[int]:
        return frozenset(chord.root.degree(degree).pitch_class for degree in wanted)

    bass = {chord.bass.pitch_class} & chord.pitch_classes
    return classes(degrees) | bass, classes(set(kept) - spared) | bass


def _choices(
    chord: Chord, tuning: Tuning, kind: str, bass: int, tones: frozenset[int], *, any_bass: bool
) -> Iterator[tuple[int, ...]]:
    """Frets from string ``bass`` up to string 1."""

    def within(string: int, first: int, last: int) -> list[int]:
        low = tuning.open_midi[string - 1]
        wanted = {chord.bass.pitch_class} if string == bass and not any_bass else tones
        frets = range(first, min(last, tuning.last_fret) + 1)
        return [fret for fret in frets if (low + fret) % 12 in wanted]

    strings = range(bass, 0, -1)
    if kind == "open":
        for frets in product(*(within(string, 0, _OPEN_FRETS) for string in strings)):
            if 0 in frets:
                yield frets
        return
    for barre in range(1, _HIGHEST_BARRE + 1):
        rows = [within(string, barre, barre + _FRETS_A_HAND - 1) for string in strings]
        yield from (frets for frets in product(*rows) if frets[0] == barre == frets[-1])


def _is_barred(held: HeldChord, bass: int) -> bool:
    return any(b.finger == 1 and b.low_string == bass and b.high_string == 1 for b in held.barres)
