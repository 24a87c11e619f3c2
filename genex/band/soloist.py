"""How a line is played: its place in the ensemble's time, and the loudness of its phrases.

Written time is left alone; tab and notation know nothing of all this. A line drifts with the band and
lies behind it as ``FeelTiming.lead_offset`` says. A phrase swells to its highest note and tapers to its
end, and notes that pass between chord tones are softer.

Literature
----------
* Todd 1992, "The dynamics of dynamics: a model of musical expression", JASA 91(6), 3540-3550: loudness
  over a phrase rises and falls as an arch.
* Friberg, Bresin and Sundberg 2006, "Overview of the KTH rule system for musical performance", Advances
  in Cognitive Psychology 2(2-3), 145-161: the phrase arch, and louder with height.
* SoundFont Technical Specification 2.04, section 8.4.1: 40 lg(velocity) dB.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import pairwise

from genex.band.bar_plans import PHRASE_BARS, chorus_levels
from genex.band.ensemble_time import Ensemble, PlayerTime
from genex.band.feel_timing import Touch, stepped_velocity
from genex.band.groove import Groove
from genex.exact import Fraction
from genex.score import Note, Part, Role, Timeline

_LONG_PULSES = 2
_FEWEST_NOTES = 3
_SHORTEST_BARS = 2
_START_DB, _PEAK_DB, _END_DB = -2.0, 2.0, -2.5
_PASSING_DB = -1.5
_PEAK_FROM, _PEAK_TO = 0.2, 0.9
_GUIDE_SHARE = 0.5
_LEVEL_DB = 40.0


def play_line(
    part: Part,
    timeline: Timeline,
    groove: Groove,
    *,
    seed: int,
    humanise: float = 1.0,
    swing: float | None = None,
    build: float = 0.0,
    even: bool = False,
) -> Part:
    """A lead part as it sounds over a feel; arguments are those of ``play_band``.

    What is ``even``, such as the questions of a drill, only swings with the band, and so does a cue.
    """
    feel = groove.feel_timing(timeline.tempo, swing)
    if even or part.role is Role.CUE:
        humanise = 0.0
    ensemble = Ensemble(timeline.bars, feel, seed=seed, drift_ms=groove.drift_ms, humanise=humanise)
    placed = _Placed(ensemble.player(part.name, Touch()))
    part = part.map_notes(placed.note)
    if not humanise or not part.notes:
        return part
    return replace(part, notes=_with_dynamics(part, timeline, humanise, chorus_levels(timeline, build)))


class _Placed:
    """A line's notes moved in time with their length, so that a single line stays single."""

    def __init__(self, time: PlayerTime) -> None:
        self._time = time
        self._known: dict[Fraction, Fraction] = {}

    def note(self, note: Note) -> Note:
        length = note.duration_beats if note.sounding_beats is None else note.sounding_beats
        whole = max(length, note.duration_beats)  # a note may ring on beyond its written end
        start = self._offset(note.onset_beats)
        end = self._offset(note.onset_beats + whole)
        sounding = (whole + end - start) * (length / whole)
        return replace(note, offset_beats=note.offset_beats + start, sounding_beats=sounding)

    def _offset(self, onset: Fraction) -> Fraction:
        known = self._known.get(onset)
        if known is None:
            feel, time = self._time.feel, self._time
            known = feel.lead_offset(onset, time.humanise)
            known += feel.milliseconds(onset, time.drift_ms(onset))
            self._known[onset] = known
        return known


def _with_dynamics(
    part: Part, timeline: Timeline, humanise: float, levels: Mapping[int, float]
) -> tuple[Note, ...]:
    share = humanise * (_GUIDE_SHARE if part.role is Role.GUIDE else 1.0)
    played = list(part.notes)
    for phrase in phrases_of(part.notes, timeline):
        arch = _arch([played[index] for index in phrase])
        for index, level_db in zip(phrase, arch, strict=True):
            note = played[index]
            if _is_passing(note, timeline):
                level_db += _PASSING_DB
            factor = 10 ** (share * level_db / _LEVEL_DB)
            factor *= levels[timeline.bar_at(note.onset_beats).chorus]
            played[index] = replace(note, velocity=stepped_velocity(note.velocity * factor))
    return tuple(played)


def phrases_of(notes: Sequence[Note], timeline: Timeline) -> list[list[int]]:
    """The phrases of a line, as places in ``notes``.

    A phrase ends with a rest of a pulse or more and with a long note; what goes on without either is
    parted where a phrase of the form begins.
    """
    pulse = timeline.meter.pulse_beats
    starts = {section.onset_beats for section in timeline.sections}
    parting: list[Fraction] = []
    since = 0
    for bar in timeline.bars:
        since = 0 if bar.onset_beats in starts else since + 1
        if since % PHRASE_BARS == 0:
            parting.append(bar.onset_beats)
    shortest = _SHORTEST_BARS * timeline.meter.bar_beats
    found: list[list[int]] = [[0]]
    place = 0
    for index, (before, note) in enumerate(pairwise(notes), 1):
        crossed = False
        while place < len(parting) and parting[place] <= note.onset_beats:
            crossed = parting[place] > before.onset_beats
            place += 1
        phrase = found[-1]
        rests = note.onset_beats - before.written_end_beats >= pulse
        is_long = before.duration_beats >= _LONG_PULSES * pulse and len(phrase) >= _FEWEST_NOTES
        goes_on = note.onset_beats - notes[phrase[0]].onset_beats >= shortest
        if rests or is_long or (crossed and goes_on):
            found.append([index])
        else:
            phrase.append(index)
    return found


def _arch(notes: Sequence[Note]) -> list[float]:
    """Level of each note of a phrase in dB: up to the highest note, down to the end; 0 on average."""
    first, last = notes[0].onset_beats, notes[-1].onset_beats
    if len(notes) < _FEWEST_NOTES or first == last:
        return [0.0] * len(notes)
    ways = [float((note.onset_beats - first) / (last - first)) for note in notes]
    inner = [way for way in ways if _PEAK_FROM <= way <= _PEAK_TO]
    peak = 0.6
    if inner:
        peak = max(zip(ways, notes, strict=True), key=lambda at: (at[0] in inner, at[1].midi, at[0]))[0]
    levels = [_level(way, peak) for way in ways]
    mean = sum(levels) / len(levels)
    return [level - mean for level in levels]


def _level(way: float, peak: float) -> float:
    if way <= peak:
        return _START_DB + (_PEAK_DB - _START_DB) * math.sin(math.pi / 2 * way / peak)
    fall = 1 - math.cos(math.pi / 2 * (way - peak) / (1 - peak))
    return _PEAK_DB + (_END_DB - _PEAK_DB) * fall


def _is_passing(note: Note, timeline: Timeline) -> bool:
    """Whether a short note belongs neither to its chord nor to the one that it leads into."""
    if note.duration_beats >= timeline.meter.pulse_beats:
        return False
    pitch_class = note.pitch.pitch_class
    chords = (timeline.chord_at(at).chord for at in (note.onset_beats, note.written_end_beats))
    return all(chord is not None and pitch_class not in chord.pitch_classes for chord in chords)
