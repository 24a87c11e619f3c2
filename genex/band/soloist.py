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
from bisect import bisect_right
from collections.abc import Mapping, Sequence
from dataclasses import replace

from genex.band.bar_plans import PHRASE_BARS, chorus_levels
from genex.band.ensemble_time import Ensemble, PlayerTime
from genex.band.feel_timing import Touch, halved_pairs, stepped_velocity
from genex.band.groove import Groove
from genex.exact import Fraction
from genex.score import Note, Part, Role, Timeline

_LONG_PULSES = 2
_FEWEST_NOTES = 3
_SHORTEST_BARS = 2
_START_DB, _PEAK_DB, _END_DB = 0.0, 3.5, -0.5
"""A phrase is lifted, so that its softest notes are heard over the band as an even line is."""
_PASSING_DB = -1.0
_PEAK_FROM, _PEAK_TO = 0.2, 0.9
_PEAK_WAY = 0.6
"""Where the peak lies if no note is inside those limits."""
_HAIR = 1e-6
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
    place = _Place(ensemble.player(part.name, Touch()), part.notes)
    if humanise and part.notes:
        loudness = _loudness(part, timeline, humanise, chorus_levels(timeline, build))
    else:
        loudness = [note.velocity for note in part.notes]
    velocities = iter(loudness)
    return part.map_notes(lambda note: place.played(note, next(velocities)))


class _Place:
    """Where a line's notes sound. A note is moved in time with its length, so that a single line stays
    single."""

    def __init__(self, time: PlayerTime, notes: Sequence[Note]) -> None:
        self._time = time
        times = (time for note in notes for time in (note.onset_beats, note.written_end_beats))
        self._halved = halved_pairs(times, self._time.feel.pair_beats)
        self._known: dict[Fraction, Fraction] = {}

    def played(self, note: Note, velocity: int) -> Note:
        """The note in its place, as loud as that."""
        length = note.duration_beats if note.sounding_beats is None else note.sounding_beats
        whole = max(length, note.duration_beats)  # a note may ring on beyond its written end
        start = self._offset(note.onset_beats)
        sounding = whole + self._offset(note.onset_beats + whole) - start
        if length != whole:
            sounding *= length / whole
        offset = note.offset_beats + start if note.offset_beats else start
        return replace(note, velocity=velocity, offset_beats=offset, sounding_beats=sounding)

    def _offset(self, onset: Fraction) -> Fraction:
        known = self._known.get(onset)
        if known is None:
            time = self._time
            known = time.feel.lead_offset(onset, time.humanise, time.drift_ms(onset), self._halved)
            self._known[onset] = known
        return known


def _loudness(part: Part, timeline: Timeline, humanise: float, levels: Mapping[int, float]) -> list[int]:
    """The velocity of each note."""
    share = humanise * (_GUIDE_SHARE if part.role is Role.GUIDE else 1.0)
    passing = _passing(part.notes, timeline)
    played = [0] * len(part.notes)
    for phrase in phrases_of(part.notes, timeline):
        arch = _arch([part.notes[index] for index in phrase])
        level = levels[timeline.bar_at(part.notes[phrase[0]].onset_beats).chorus]
        for index, level_db in zip(phrase, arch, strict=True):
            level_db += _PASSING_DB * passing[index]
            factor = level * 10 ** (share * level_db / _LEVEL_DB)
            played[index] = stepped_velocity(part.notes[index].velocity * factor)
    return played


def phrases_of(notes: Sequence[Note], timeline: Timeline) -> list[list[int]]:
    """The phrases of a line, as places in ``notes``.

    A phrase ends with a rest of a pulse or more and with a long note; what goes on without either is
    parted where a phrase of the form begins.
    """
    pulse = float(timeline.meter.pulse_beats)
    shortest = float(_SHORTEST_BARS * timeline.meter.bar_beats)
    parting = _phrase_starts(timeline)
    onsets = [float(note.onset_beats) for note in notes]
    lengths = [float(note.duration_beats) for note in notes]
    found: list[list[int]] = [[0]]
    place = 0
    for index in range(1, len(notes)):
        before, onset, length = onsets[index - 1], onsets[index], lengths[index - 1]
        crossed = False
        while place < len(parting) and parting[place] <= onset:
            crossed = parting[place] > before
            place += 1
        phrase = found[-1]
        rests = onset - before - length > pulse - _HAIR
        is_long = length > _LONG_PULSES * pulse - _HAIR and len(phrase) >= _FEWEST_NOTES
        goes_on = onset - onsets[phrase[0]] > shortest - _HAIR
        if rests or is_long or (crossed and goes_on):
            found.append([index])
        else:
            phrase.append(index)
    return found


def _phrase_starts(timeline: Timeline) -> list[float]:
    """Where phrases of the form begin, in beats."""
    starts = {section.onset_beats for section in timeline.sections}
    found = []
    since = 0
    for bar in timeline.bars:
        since = 0 if bar.onset_beats in starts else since + 1
        if since % PHRASE_BARS == 0:
            found.append(float(bar.onset_beats))
    return found


def _arch(notes: Sequence[Note]) -> list[float]:
    """Level of each note of a phrase in dB: up to the highest note, down to the end."""
    first, last = float(notes[0].onset_beats), float(notes[-1].onset_beats)
    if len(notes) < _FEWEST_NOTES or first == last:
        return [0.0] * len(notes)
    ways = [(float(note.onset_beats) - first) / (last - first) for note in notes]
    inner = [
        (note.midi, way) for note, way in zip(notes, ways, strict=True) if _PEAK_FROM <= way <= _PEAK_TO
    ]
    peak = max(inner)[1] if inner else _PEAK_WAY
    return [_level(way, peak) for way in ways]


def _level(way: float, peak: float) -> float:
    if way <= peak:
        return _START_DB + (_PEAK_DB - _START_DB) * math.sin(math.pi / 2 * way / peak)
    fall = 1 - math.cos(math.pi / 2 * (way - peak) / (1 - peak))
    return _PEAK_DB + (_END_DB - _PEAK_DB) * fall


def _passing(notes: Sequence[Note], timeline: Timeline) -> list[bool]:
    """Of each note whether it passes: short, and of neither its chord nor the one that it leads into."""
    starts = [float(span.onset_beats) for span in timeline.chords]
    classes = [span.chord.pitch_classes if span.chord else None for span in timeline.chords]
    pulse = timeline.meter.pulse_beats
    found = []
    for note in notes:
        passes = note.duration_beats < pulse
        if passes:
            pitch_class, onset = note.pitch.pitch_class, float(note.onset_beats)
            for time in (onset, onset + float(note.duration_beats)):
                tones = classes[(bisect_right(starts, time + _HAIR) - 1) % len(starts)]
                passes = passes and tones is not None and pitch_class not in tones
        found.append(passes)
    return found
