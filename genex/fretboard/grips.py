"""Grips: chords to comp with, held down by one hand, on every set of strings that takes them.

Kinds [common practice]: the triad close on three neighbouring strings; the rootless grip of a chord
with a seventh or sixth, the triad of its other tones, so that F A C stands for Dm7; the shell of
root, third and seventh; drop 2 on four neighbouring strings; drop 3 with a string left out above the
lowest; open and barre chords over all strings from the bass up (``strummed_grips.py``). The voicings
are those of ``theory/voicings.py``, every inversion; the fingers those of ``held.py``.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from dataclasses import replace

from genex.errors import FretboardError
from genex.fretboard.grip import Grip, named_grip
from genex.fretboard.held import held_chord
from genex.fretboard.strummed_grips import STRUMMED, strummed_grips
from genex.fretboard.tunings import Hand, Tuning
from genex.hints import did_you_mean
from genex.theory import Chord, Voicing, upper_triads, voicings

_SPACED = {
    # strings between the lowest voice's and each other voice's
    "triad": ((0, 1, 2),),
    "rootless": ((0, 1, 2),),
    "shell": ((0, 1, 2), (0, 2, 3)),
    "drop 2": ((0, 1, 2, 3),),
    "drop 3": ((0, 2, 3, 4),),
}
_WITHOUT_ROOT = ("drop 2", "drop 3")
"""Over a bass a ninth chord is held as the seventh chord on its third: C9 as Em7b5, D7b9 as F#dim7."""
MOVABLE = tuple(_SPACED)
KINDS = (*MOVABLE, *STRUMMED)
HIGHEST_FRET = 15


def grips_of(
    chord: Chord, tuning: Tuning, kind: str | None = None, *, hand: Hand | None = None
) -> tuple[Grip, ...]:
    """The grips of a chord by kind, strings from the lowest, then up the neck.

    Movable ones are placed as low as they can lie without open strings. Raises FretboardError for an
    unknown kind or a neck that has none.
    """
    found: dict[tuple[object, ...], Grip] = {}
    for grip in every_grip(chord, tuning, KINDS if kind is None else (kind,), hand=hand):
        order = tuple(grip.degrees[string] for string in grip.strings)
        found.setdefault((grip.kind, grip.strings, order), grip)
    if not found:
        raise FretboardError(
            f"{tuning} holds no grip of {chord}", hint="take an instrument of more strings"
        )
    order_of_kinds = {name: index for index, name in enumerate(KINDS)}
    return tuple(
        sorted(
            found.values(),
            key=lambda g: (
                order_of_kinds[g.kind],
                [-string for string in g.strings],
                min(g.held.frets.values()),
            ),
        )
    )


def every_grip(
    chord: Chord,
    tuning: Tuning,
    kinds: Iterable[str],
    *,
    strings: Collection[int] | None = None,
    hand: Hand | None = None,
) -> Iterator[Grip]:
    """Every grip of some kinds in every place of the neck, the lower of two octaves first.

    ``strings`` are those that may sound, None for all. Raises FretboardError for an unknown kind.
    """
    for kind in kinds:
        if kind not in KINDS:
            raise FretboardError(f"'{kind}' is not a kind of grip", hint=did_you_mean(kind, KINDS))
        if kind in STRUMMED:
            from_bass = strummed_grips(chord, tuning, kind, hand=hand)
            yield from (g for g in from_bass if strings is None or set(g.strings) <= set(strings))
        else:
            yield from _movable(chord, tuning, kind, strings, hand)


def _movable(
    chord: Chord, tuning: Tuning, kind: str, own: Collection[int] | None, hand: Hand | None
) -> Iterator[Grip]:
    """Grips of a movable kind, the lower of two octaves first."""
    ladder = tuning.low_to_high
    last = min(HIGHEST_FRET, tuning.last_fret)
    for voicing in _voicings(chord, kind, tuning):
        midis = [pitch.midi for pitch in voicing]
        if len(set(midis)) < len(midis):
            continue
        for spaces in _SPACED[kind]:
            if len(spaces) != len(midis):
                continue
            for lowest in range(len(ladder) - spaces[-1]):
                strings = tuple(ladder[lowest + space] for space in spaces)
                if own is not None and not set(strings) <= set(own):
                    continue
                frets = {
                    string: midi - tuning.open_midi[string - 1]
                    for string, midi in zip(strings, midis, strict=True)
                }
                if not all(1 <= fret <= last for fret in frets.values()):
                    continue
                held = held_chord(frets, tuning, hand=hand)
                if held is not None:
                    yield named_grip(kind, chord, tuning, held)


def _voicings(chord: Chord, kind: str, tuning: Tuning) -> list[Voicing]:
    """The voicings of a kind; of a ninth chord in four voices those without its root too."""
    low, high = tuning.lowest_midi, tuning.highest_midi
    if kind == "rootless":
        return upper_triads(chord, low, high)
    found = voicings(chord, kind, low, high)
    if kind in _WITHOUT_ROOT and chord.find(9) is not None and chord.find(7) is not None:
        upper = replace(chord, degrees=tuple(d for d in chord.degrees if d.number != 1))
        found += voicings(upper, kind, low, high)
    return found
