"""What fermatas and ritardandos make of the tempo of a take; a loop keeps its tempo."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from genex.exact import Fraction
from genex.score import TempoChange, TempoMap, TempoSign, Timeline

RITARDANDO_BARS = 2
"""Bars in which a take gets slower, before its last bar."""
END_TEMPO = 0.6
"""Share of the tempo that is left at the end of a ritardando."""
BRAKING = 3
"""Curvature of the slowing down, as listeners liked it best [published: Friberg and Sundberg 1999]."""
HELD_TEMPO = Fraction(1, 2)
"""Share of the tempo under a fermata: what it lies over lasts about twice as long [common practice]."""


def with_last_ritardando(timeline: Timeline) -> Timeline:
    """The timeline with a ritardando before its last bar."""
    bars = timeline.bars[-1 - RITARDANDO_BARS :]
    sign = TempoSign("rit.", bars[0].onset_beats, timeline.length_beats)
    return replace(timeline, signs=(*timeline.signs, sign))


def obeyed(timeline: Timeline) -> TempoMap:
    """The tempo of a take, which obeys each sign the last time that it comes by."""
    tempo = timeline.tempo
    signs = [sign for sign in timeline.signs if sign.is_played]
    for sign in signs:
        if sign.name == "rit.":
            tempo = _changed(tempo, sign, _slowing(tempo, sign, timeline), timeline.length_beats)
    for sign in signs:
        if sign.name == "fermata":
            inside = (c for c in tempo.changes if sign.onset_beats < c.onset_beats < sign.end_beats)
            begun = (TempoChange(sign.onset_beats, tempo.tempo_at(sign.onset_beats)), *inside)
            held = [TempoChange(c.onset_beats, c.tempo_bpm * HELD_TEMPO) for c in begun]
            tempo = _changed(tempo, sign, held, timeline.length_beats)
    return tempo


def _changed(
    tempo: TempoMap, sign: TempoSign, inside: list[TempoChange], length_beats: Fraction
) -> TempoMap:
    """The tempo with other changes under a sign, and behind it what was there."""
    before = [change for change in tempo.changes if change.onset_beats < sign.onset_beats]
    after = [change for change in tempo.changes if change.onset_beats >= sign.end_beats]
    if sign.end_beats < length_beats and not any(c.onset_beats == sign.end_beats for c in after):
        after.insert(0, TempoChange(sign.end_beats, tempo.tempo_at(sign.end_beats)))
    return TempoMap((*before, *inside, *after))


def _slowing(tempo: TempoMap, sign: TempoSign, timeline: Timeline) -> list[TempoChange]:
    """The changes of a ritardando. Where it ends the piece, the last bar keeps the tempo reached.

    Tempo falls as a runner's speed who stops: ``v(x) = (1 + (w^q - 1) x)^(1/q)`` with ``w``
    the share that is left and ``x`` the way from 0 to 1 [published: Friberg and Sundberg, JASA 105,
    1999]; in steps of half a pulse.
    """
    onsets = list(_steps(sign, timeline))
    found = []
    for index, onset in enumerate(onsets, start=1):
        share = (1 + (END_TEMPO**BRAKING - 1) * index / len(onsets)) ** (1 / BRAKING)
        found.append(TempoChange(onset, tempo.tempo_at(onset) * Fraction(round(share * 1000), 1000)))
    return found


def _steps(sign: TempoSign, timeline: Timeline) -> Iterator[Fraction]:
    """Where a ritardando gets slower."""
    last, step = timeline.bars[-1].onset_beats, timeline.meter.pulse_beats / 2
    ends_piece = sign.end_beats == timeline.length_beats and sign.onset_beats < last
    stop = last if ends_piece else sign.end_beats
    for index in range(int((stop - sign.onset_beats) / step)):
        yield sign.onset_beats + index * step
    if ends_piece:
        yield stop
