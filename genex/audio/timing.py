"""From notes in beats to strikes in samples.

A *strike* is everything that decides how one note sounds, in the synthesizer's own units; two
notes with equal strikes are the same waveform. A *placement* says at which sample it starts.
Positions come from the same tempo map and rounding as ``TempoMap.sample_at``, in whole numbers
instead of fractions because a score has thousands of notes.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable
from typing import NamedTuple

from genex.audio.sound import BLOCK_SAMPLES
from genex.exact import Fraction
from genex.score import Part, TempoMap, pitch_curve
from genex.units import TICKS_PER_BEAT, ticks_to_beats

_SLIDE_LIMIT_SEMITONES = 24


class Strike(NamedTuple):
    """One distinct note as the synthesizer plays it.

    kit            True for a percussion kit (bank 128)
    program        General MIDI program or kit, 0-based
    key, velocity  MIDI numbers
    hold_blocks    blocks of 64 samples from note-on to note-off
    choke_blocks   blocks until a note of the same exclusive class cuts it off; 0 never
    bend_semitones where a slide starts, relative to the key; 0 no slide
    bend_blocks    how long the slide takes
    curve          blocks from the start and cents above the key, straight lines between: bends, vibrato
    """

    kit: bool
    program: int
    key: int
    velocity: int
    hold_blocks: int
    choke_blocks: int = 0
    bend_semitones: int = 0
    bend_blocks: int = 0
    curve: tuple[tuple[int, int], ...] = ()

    @property
    def keeps_pitch(self) -> bool:
        """Whether it sounds at its key's pitch throughout."""
        return not self.bend_semitones and not self.curve


class Placement(NamedTuple):
    """A strike and the sample frame at which it starts (it may be negative)."""

    start_sample: int
    strike: Strike


class SampleClock:
    """``TempoMap.sample_at`` for whole ticks, in integer arithmetic.

    ``offset_beats`` is added to every time (a lead-in before the first bar).
    """

    def __init__(self, tempo: TempoMap, rate_hz: int, offset_beats: Fraction = Fraction(0)) -> None:
        self.tempo = tempo
        shifted = tempo.shifted(offset_beats) if offset_beats else tempo
        self._offset_ticks = offset_beats * TICKS_PER_BEAT
        self._starts: list[Fraction] = []
        self._lines: list[tuple[int, int, int]] = []
        for change in shifted.changes:
            # samples = base + slope * (ticks - start), written over one denominator
            start = change.onset_beats * TICKS_PER_BEAT
            slope = Fraction(60 * rate_hz, TICKS_PER_BEAT) / change.tempo_bpm
            base = shifted.seconds_at(change.onset_beats) * rate_hz - slope * (
                start - self._offset_ticks
            )
            denominator = slope.denominator * base.denominator
            self._starts.append(start - self._offset_ticks)
            self._lines.append(
                (slope.numerator * base.denominator, base.numerator * slope.denominator, denominator)
            )

    def sample_at(self, ticks: int) -> int:
        """Sample frame of a time in ticks from the first bar, rounded half up."""
        lines = self._lines
        index = 0 if len(lines) == 1 else max(0, bisect_right(self._starts, ticks) - 1)
        slope, base, denominator = lines[index]
        return (2 * (slope * ticks + base) + denominator) // (2 * denominator)


def placements(part: Part, clock: SampleClock) -> list[Placement]:
    """The strikes of a part in the order of their starts, without regard to exclusive classes."""
    placed = []
    kit, program = part.is_percussion, part.program
    for note, (start_ticks, end_ticks) in zip(part.notes, part.sounding_ticks, strict=True):
        start, end = clock.sample_at(start_ticks), clock.sample_at(end_ticks)
        bend, bend_blocks = 0, 0
        if note.slide is not None and note.slide.from_semitones:
            bend = max(-_SLIDE_LIMIT_SEMITONES, min(_SLIDE_LIMIT_SEMITONES, note.slide.from_semitones))
            slide_ticks = int(note.slide.length_beats * TICKS_PER_BEAT)
            bend_blocks = _blocks(clock.sample_at(start_ticks + slide_ticks) - start)
        curve: tuple[tuple[int, int], ...] = ()
        if note.bend is not None or note.vibrato:
            beats = ticks_to_beats(end_ticks - start_ticks)
            tempo_bpm = clock.tempo.tempo_at(ticks_to_beats(start_ticks))
            curve = tuple(
                (
                    _rounded(clock.sample_at(start_ticks + int(at * TICKS_PER_BEAT)) - start),
                    int(100 * up),
                )
                for at, up in pitch_curve(note, beats, tempo_bpm)
            )
        strike = Strike(
            kit, program, note.midi, note.velocity, _blocks(end - start), 0, bend, bend_blocks, curve
        )
        placed.append(Placement(start, strike))
    placed.sort()
    return placed


def choke_gaps(
    placed: Iterable[Placement], classes: dict[int, int], loop_samples: int | None
) -> list[tuple[Placement, int]]:
    """Each placement with the blocks until the next of its exclusive class starts; 0 never.

    ``classes`` maps a kit's keys to their exclusive class (0: none). In a loop the first note of
    a class cuts off the last one of the pass before.
    """
    found: list[tuple[Placement, int]] = []
    upcoming: dict[int, int] = {}
    ordered = list(placed)
    if loop_samples is not None:
        for placement in ordered:
            upcoming.setdefault(classes[placement.strike.key], placement.start_sample + loop_samples)
    for placement in reversed(ordered):
        group = classes[placement.strike.key]
        gap = 0
        if group:
            if group in upcoming:
                gap = _blocks(upcoming[group] - placement.start_sample)
            upcoming[group] = placement.start_sample
        found.append((placement, gap))
    found.reverse()
    return found


def _rounded(samples: int) -> int:
    """Blocks nearest to a time in samples."""
    return (samples + BLOCK_SAMPLES // 2) // BLOCK_SAMPLES


def _blocks(samples: int) -> int:
    """Blocks nearest to a length in samples, at least one."""
    return max(1, _rounded(samples))
