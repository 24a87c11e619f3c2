"""The practice click: a part like any other, exact in time, that can thin out and vanish.

A click that is heard less and less often is how a player learns to keep time without it
[common practice]: on every beat, on two and four, on one alone, then with bars left out.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from genex.exact import Fraction
from genex.score import KITS, PERCUSSION, Bar, Mix, Note, Part, Role, Timeline
from genex.theory import Pitch

ClickBeats = Literal["every beat", "two and four", "one"]

CLICK_LENGTH_BEATS = Fraction(1, 8)
ACCENT, BEAT, BETWEEN = 112, 92, 64
"""Velocities: the first beat of a bar, the others, and the subdivisions."""


@dataclass(frozen=True)
class ClickSettings:
    """What the click shall do.

    beats       "every beat"; "two and four": every second beat from the second; "one": the first
    subdivide   clicks in each beat that has one, 1 to 6
    accent      the first beat of the bar is higher and louder
    play_bars   bars with the click, then ``drop_bars`` without; 0 for never leaving out
    """

    beats: ClickBeats = "every beat"
    subdivide: int = 1
    accent: bool = True
    play_bars: int = 0
    drop_bars: int = 0


def play_click(timeline: Timeline, settings: ClickSettings | None = None) -> Part:
    """The click over a timeline. Raises ValueError for settings that are not ones."""
    settings = settings or ClickSettings()
    if not 1 <= settings.subdivide <= 6 or settings.play_bars < 0 or settings.drop_bars < 0:
        raise ValueError(f"no click can do this: {settings}")
    notes = [
        note
        for index, bar in enumerate(timeline.bars)
        if _sounds(index, settings)
        for note in _bar_clicks(bar, settings)
    ]
    mix = Mix(level_db=-6.0, room=0.0)
    return Part.of("click", Role.CLICK, KITS["standard"], notes, mix=mix)


def _sounds(index: int, settings: ClickSettings) -> bool:
    """Whether the bar of an index, from 0, has the click."""
    if not settings.drop_bars:
        return True
    return index % (max(1, settings.play_bars) + settings.drop_bars) < max(1, settings.play_bars)


def _bar_clicks(bar: Bar, settings: ClickSettings) -> Iterator[Note]:
    pulses = bar.meter.pulses
    ends = (*pulses[1:], bar.length_beats)
    for index, (pulse, end) in enumerate(zip(pulses, ends, strict=True)):
        if settings.beats == "two and four" and index % 2 == 0:
            continue
        if settings.beats == "one" and index > 0:
            continue
        step = bar.meter.pulse_beats / settings.subdivide
        # The long beat at the end of 7/8 holds more steps than the others.
        for division in range(int((end - pulse) / step)):
            is_accent = settings.accent and index == 0 and division == 0
            velocity = ACCENT if is_accent else BEAT if division == 0 else BETWEEN
            key = PERCUSSION["high wood block" if is_accent else "low wood block"]
            yield Note(
                bar.onset_beats + pulse + division * step,
                min(CLICK_LENGTH_BEATS, step),
                Pitch.from_midi(key),
                velocity,
            )
