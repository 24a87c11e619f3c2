"""The way of the plectrum through a line of single notes, by a rule.

A hand that keeps time goes down on the pulse and up between pulses, so that is how a run begins: after a
rest, after a note of a pulse or more, and after a note that is hammered on or pulled off. Within a run
strokes alternate, or, to save way, go on in their direction where that leads to the next string: down to
a thinner one, up to a thicker one [common practice: alternate and economy picking].
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import replace
from itertools import groupby

from genex.exact import Fraction
from genex.exercises.models.own_lines import PickingRule
from genex.score import Meter, Note, Stroke

_OTHER = {Stroke.DOWN: Stroke.UP, Stroke.UP: Stroke.DOWN}


def with_strokes(
    notes: Sequence[Note],
    rule: PickingRule | None,
    bar_lines: Sequence[Fraction],
    meters: Sequence[Meter],
) -> list[Note]:
    """The notes of a line with their strokes; strokes that are written are kept and gone on from.

    ``notes`` are in order, over bars that begin at ``bar_lines`` in their ``meters``, a pickup before
    the first; those struck together have one stroke. What the fretting hand sounds has none.
    """
    if rule is None:
        return list(notes)
    found: list[Note] = []
    before: Note | None = None
    for _, struck in groupby(notes, key=lambda note: note.onset_beats):
        together = list(struck)
        if all(note.legato for note in together):
            found += together
            before = None
            continue
        written = next((note.stroke for note in together if note.stroke), None)
        onset = together[0].onset_beats
        bar = max(0, bisect_right(bar_lines, onset) - 1)
        into = onset - bar_lines[bar]
        way = written or _way(before, together[0], rule, meters[bar].pulse_beats, into)
        found += [note if note.legato else replace(note, stroke=way) for note in together]
        before = replace(together[-1], stroke=way)
    return found


def _way(
    before: Note | None, note: Note, rule: PickingRule, pulse_beats: Fraction, into_bar: Fraction
) -> Stroke:
    if (
        before is None
        or before.stroke is None
        or before.duration_beats >= pulse_beats
        or before.written_end_beats < note.onset_beats
    ):
        return _by_the_pulse(note, pulse_beats, into_bar)
    if rule == "economy" and before.fretting is not None and note.fretting is not None:
        crossed = note.fretting.string - before.fretting.string
        if crossed:
            return Stroke.DOWN if crossed < 0 else Stroke.UP
    return _OTHER[before.stroke]


def _by_the_pulse(note: Note, pulse_beats: Fraction, into_bar: Fraction) -> Stroke:
    """Down on the pulse, up between; of a division into even notes the odd ones are down."""
    steps = into_bar % pulse_beats / note.duration_beats
    return Stroke.DOWN if steps % 2 == 0 else Stroke.UP
