"""The practice click: a part like any other, exact in time, that can thin out and vanish.

A click that is heard less and less often is how a player learns to keep time without it
[common practice]: on every beat, on two and four, on one alone, off the beat, then with bars left out,
and more of them each time.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING

from genex.band.groove import default_beats
from genex.exact import Fraction
from genex.score import KITS, PERCUSSION, Bar, Mix, Note, Part, Role, Timeline
from genex.theory import Pitch

if TYPE_CHECKING:
    from genex.exercises import Click

CLICK_LENGTH_BEATS = Fraction(1, 8)
ACCENT, BEAT, BETWEEN = 112, 92, 64
"""Velocities: the first beat of a bar, the others, and the subdivisions."""

SOFT = 0.55
"""How loud the pulse in silence is, beside a click."""

Span = tuple[Fraction, Fraction]


def play_click(timeline: Timeline, wish: Click, lines: Iterable[Part] = ()) -> Part:
    """The click over a timeline; ``lines`` are the parts whose silence it can fill."""
    sounding = _sounding_bars(len(timeline.bars), wish)
    notes = [
        note
        for bar, sounds in zip(timeline.bars, sounding, strict=True)
        if sounds
        for note in _bar_clicks(bar, wish)
    ]
    if wish.in_silence:
        silence = silences(timeline, lines)
        notes = [
            note for note in notes if any(start <= note.onset_beats < end for start, end in silence)
        ]
    mix = Mix(level_db=-6.0, room=0.0)
    return Part.of("click", Role.CLICK, KITS["standard"], notes, mix=mix)


def silences(timeline: Timeline, lines: Iterable[Part]) -> list[Span]:
    """Where no note of any line is written for a bar and more."""
    notes = sorted((note.onset_beats, note.written_end_beats) for part in lines for note in part.notes)
    found: list[Span] = []
    free_from = Fraction(0)
    for onset, end in [*notes, (timeline.length_beats, timeline.length_beats)]:
        if onset - free_from >= timeline.bar_at(free_from).length_beats:
            found.append((free_from, onset))
        free_from = max(free_from, end)
    return found


def _sounding_bars(count: int, wish: Click) -> list[bool]:
    """Whether each bar has the click: some bars with it, a gap, and so on, gaps growing as wished."""
    if not wish.drop_bars:
        return [True] * count
    sounding: list[bool] = []
    gap = wish.drop_bars
    while len(sounding) < count:
        sounding += [True] * max(1, wish.play_bars) + [False] * gap
        gap = max(gap, min(gap + wish.grow_bars, wish.most_drop_bars))
    return sounding[:count]


def _bar_clicks(bar: Bar, wish: Click) -> Iterator[Note]:
    beats = default_beats(bar.meter)
    share = min(beats) / wish.subdivide
    heard = wish.only or range(1, wish.subdivide + 1)
    pulse = Fraction(0)
    for index, length in enumerate(beats):
        onset, pulse = pulse, pulse + length
        if wish.beats == "two and four" and index % 2 == 0:
            continue
        if wish.beats == "one" and index > 0:
            continue
        # The long beat at the end of 7/8 holds more steps than the others.
        for division in range(int(length / share)):
            if division % wish.subdivide + 1 not in heard:
                continue
            is_accent = wish.accent and index == 0 and division == 0
            velocity = ACCENT if is_accent else BEAT if division == 0 else BETWEEN
            if wish.only and division:
                velocity = BEAT
            key = PERCUSSION["high wood block" if is_accent else "low wood block"]
            yield Note(
                bar.onset_beats + onset + division * share,
                min(CLICK_LENGTH_BEATS, share),
                Pitch.from_midi(key),
                round(velocity * SOFT) if wish.in_silence else velocity,
            )
