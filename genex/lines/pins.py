"""Pinned notes: a note of a line that its player takes elsewhere, the rest fingered around it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial

from genex.errors import FretboardError, LineError
from genex.exact import Fraction
from genex.fretboard.fingering import Fingered, finger_among
from genex.fretboard.tunings import Place, Tuning, places
from genex.fretboard.wishes import Wishes
from genex.lines.placement import breaths_of, slides_of, with_frettings
from genex.score import Note, Part, Timeline

MAKING_WAY = 3
"""So many notes before and after a pinned one may be taken otherwise than without it."""
NEAR_BEATS = Fraction(1, 48)
"""Beats in decimals, such as 2.33, mean the note that is as near as this."""


@dataclass(frozen=True, slots=True)
class Pin:
    """``bar`` counts as printed, ``beat`` the pulses of the bar from 1; ``finger`` None for any."""

    bar: int
    beat: Fraction
    string: int
    finger: int | None = None


def pinned(part: Part, timeline: Timeline, tuning: Tuning, pins: Sequence[Pin]) -> Part:
    """The part with its pinned notes where they are wished.

    The other notes keep string, fret and finger, a teacher's own too; those beside a pinned one
    unless the way to it is worth the change. Raises LineError for a note that is not there, or not to
    be had so.
    """
    if not pins or not part.notes:
        return part
    if part.chordal:
        raise LineError(
            "notes of grips cannot be pinned",
            hint="choose the grips by 'strings', 'position' and 'voicings' of the exercise",
        )
    settled: dict[int, tuple[Place, int | None]] = {}
    for pin in pins:
        index = _note_at(part, timeline, pin)
        midi = part.notes[index].midi
        place = next((place for place in places(tuning, midi) if place.string == pin.string), None)
        if place is None:
            found = ", ".join(f"string {p.string} fret {p.fret}" for p in places(tuning, midi))
            raise LineError(
                f"{part.notes[index].pitch} in bar {pin.bar} does not lie on string {pin.string}",
                hint=f"it lies at {found}",
            )
        settled[index] = place, pin.finger
    near = [_fingered(note) for note in part.notes]
    opens = any(note is not None and note.fret == 0 for note in near)
    finger = partial(
        finger_among,
        [note.midi for note in part.notes],
        tuning=tuning,
        wishes=Wishes(
            closed=not opens and all(place.fret for place, _ in settled.values()),
            breaths=breaths_of(part.notes),
            slides=slides_of(part.notes),
        ),
        near=[None if index in settled else note for index, note in enumerate(near)],
    )
    pins_at = [_grip(settled.get(index)) for index in range(len(part.notes))]
    places_at = [{settled[i][0]} if i in settled else None for i in range(len(part.notes))]
    # The notes around a pinned one make way for it; all others stay as they are.
    kept = {
        index: note
        for index, note in enumerate(near)
        if note is not None and all(abs(index - pin) > MAKING_WAY for pin in settled)
    }
    for stay in (kept, {}):
        try:
            line = finger(
                choices=[{stay[i].place} if i in stay else place for i, place in enumerate(places_at)],
                held=[(stay[i].finger, None) if i in stay else pin for i, pin in enumerate(pins_at)],
            )
            break
        except FretboardError as error:
            refusal = error
    else:
        raise LineError(
            "no hand can play the line with the notes pinned so",
            hint="pin another finger, or none to have it computed",
        ) from refusal
    return replace(part, notes=tuple(with_frettings(part.notes, line)))


def _grip(settled: tuple[Place, int | None] | None) -> tuple[int, None] | None:
    return None if settled is None or settled[1] is None else (settled[1], None)


def _fingered(note: Note) -> Fingered | None:
    place = note.fretting
    if place is None or place.finger is None:
        return None
    return Fingered(place.string, place.fret, place.finger, max(1, place.fret - place.finger + 1))


def _note_at(part: Part, timeline: Timeline, pin: Pin) -> int:
    """Index of the note that begins at the place of a pin. Raises LineError."""
    if not 1 <= pin.bar <= len(timeline.bars):
        raise LineError(f"there is no bar {pin.bar}", hint=f"bars run from 1 to {len(timeline.bars)}")
    bar = timeline.bars[pin.bar - 1]
    pulse = bar.meter.pulse_beats
    onset = bar.onset_beats + (pin.beat - 1) * pulse
    beats = []
    for index, note in enumerate(part.notes):
        if abs(note.onset_beats - onset) <= NEAR_BEATS:
            return index
        if bar.onset_beats <= note.onset_beats < bar.end_beats:
            beats.append(f"{float((note.onset_beats - bar.onset_beats) / pulse) + 1:.3g}")
    hint = f"its notes begin on {', '.join(beats)}" if beats else "that bar has no note of its own"
    raise LineError(f"no note begins on beat {float(pin.beat):g} of bar {pin.bar}", hint=hint)
