"""The practice click: a part like any other, exact in time, that can thin out and vanish.

A click that is heard less and less often is how a player learns to keep time without it
[common practice]: on every beat, on two and four, on one alone, then with bars left out.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

from genex.exact import Fraction
from genex.score import KITS, PERCUSSION, Bar, Mix, Note, Part, Role, Timeline
from genex.theory import Pitch

if TYPE_CHECKING:
    from genex.exercises import Click

CLICK_LENGTH_BEATS = Fraction(1, 8)
ACCENT, BEAT, BETWEEN = 112, 92, 64
"""Velocities: the first beat of a bar, the others, and the subdivisions."""


def play_click(timeline: Timeline, wish: Click) -> Part:
    """The click over a timeline."""
    notes = [
        note
        for index, bar in enumerate(timeline.bars)
        if _sounds(index, wish)
        for note in _bar_clicks(bar, wish)
    ]
    mix = Mix(level_db=-6.0, room=0.0)
    return Part.of("click", Role.CLICK, KITS["standard"], notes, mix=mix)


def _sounds(index: int, wish: Click) -> bool:
    """Whether the bar of an index, from 0, has the click."""
    if not wish.drop_bars:
        return True
    return index % (max(1, wish.play_bars) + wish.drop_bars) < max(1, wish.play_bars)


def _bar_clicks(bar: Bar, wish: Click) -> Iterator[Note]:
    pulses = bar.meter.pulses
    ends = (*pulses[1:], bar.length_beats)
    for index, (pulse, end) in enumerate(zip(pulses, ends, strict=True)):
        if wish.beats == "two and four" and index % 2 == 0:
            continue
        if wish.beats == "one" and index > 0:
            continue
        step = bar.meter.pulse_beats / wish.subdivide
        # The long beat at the end of 7/8 holds more steps than the others.
        for division in range(int((end - pulse) / step)):
            is_accent = wish.accent and index == 0 and division == 0
            velocity = ACCENT if is_accent else BEAT if division == 0 else BETWEEN
            key = PERCUSSION["high wood block" if is_accent else "low wood block"]
            yield Note(
                bar.onset_beats + pulse + division * step,
                min(CLICK_LENGTH_BEATS, step),
                Pitch.from_midi(key),
                velocity,
            )
