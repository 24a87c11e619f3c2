"""The chord player: voicings led from chord to chord, in the rhythms of the feel.

Signs of a comping pattern: a digit strikes the chord with that loudness; ``>`` strikes the chord
of the next beat ahead of time, and the stroke on that beat is left out; ``x`` is a muted strum.
Picked patterns name voices from the bottom instead: ``1`` is the lowest.

Voice leading without memory: in each section all chords are voiced as near as possible to one
register, chosen among those in which the chords of the key move least. Neighbouring chords then lie
close to each other, common tones stay, the top voice moves little, and editing one bar leaves the
voicings of all others as they were. Chords inside one bar are led from each to the next.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass, replace

from genex.band.bar_plans import SHORTEST_BEATS, BarPlan, Segment, lay_out
from genex.band.ensemble_time import PlayerTime
from genex.band.feel_timing import settle
from genex.band.groove import CompingRules, PatternChoice, velocity_of
from genex.band.kit import COMPING_GUITARS, program_of
from genex.band.listening import Heard, Listener
from genex.band.pattern_notation import Step, fit
from genex.band.playable_voicings import Voicing
from genex.band.registers import clear_of, home_centres, lead_to
from genex.band.strums import is_up, spread_ms
from genex.exact import Fraction
from genex.fretboard import STANDARD
from genex.score import Articulation, Mix, Note, Part, Role
from genex.theory import Chord

COMPING_SIGNS = "123456789>x"
PICKING_SIGNS = "123456"
ZERO = Fraction(0)

_PUSH_LOUDNESS = 6
_FILLER_LOUDNESS = 5
_MUTED_LOUDNESS = 3
_STOP_LOUDNESS = 7
_MUTED_BEATS = Fraction(1, 10)
_GATE = Fraction(19, 20)
_TOP_VOICE_VELOCITY = 4
_PICKED_LOUDNESS = 5.2
_FULL_CHORD = 4
_NO_VOICE = -1
_FIFTH = 7
ROOM_FOR_LEAD_DB = 3.0
"""Comping under a lead line is softer by so much. That comes after the arrangement: another register,
no fifth in full chords, no voice on top that is brought out."""


@dataclass(frozen=True, slots=True)
class _Stroke:
    """A struck chord, or with ``voice`` one of its notes, inside a bar.

    ``leads_on``: struck ahead of the bar line, so that what it is depends on the next bar.
    """

    onset_beats: Fraction
    length_beats: Fraction
    loudness: float
    chord: Chord
    voicing: Voicing
    is_muted: bool = False
    leads_on: bool = False
    voice: int | None = None
    ring_beats: Fraction | None = None


def play_comping(
    plans: Sequence[BarPlan],
    rules: CompingRules,
    beats: tuple[Fraction, ...],
    time: PlayerTime,
    *,
    seed: int,
    heard: Heard | None = None,
) -> Part:
    """The comping part.

    A lead that is ``heard`` is left room: in register, in how much is struck, in level, and by what it
    does.
    """
    lead_range = None if heard is None else heard.range
    player = _Player(plans, rules, beats, seed, lead_range)
    if heard is not None and rules.listening:
        player.listen(Listener(plans, rules, beats, seed, heard))
    notes: list[Note] = []
    for index, plan in enumerate(plans):
        if "comping" not in plan.resting:
            strokes = player.strokes(index)
            notes += _notes(strokes, plan, time, rules, seed, under_lead=lead_range is not None)
    on_guitar = rules.instrument in COMPING_GUITARS
    return Part.of(
        "comping",
        Role.COMPING,
        program_of(rules.instrument),
        settle(notes, plans[-1].bar.end_beats),
        strings=STANDARD.strings if on_guitar else (),
        mix=rules.mix if lead_range is None else _softer(rules.mix),
    )


def _softer(mix: Mix) -> Mix:
    return replace(mix, level_db=mix.level_db - ROOM_FOR_LEAD_DB)


class _Player:
    """What is struck in each bar."""

    def __init__(
        self,
        plans: Sequence[BarPlan],
        rules: CompingRules,
        beats: tuple[Fraction, ...],
        seed: int,
        lead_range: tuple[int, int] | None,
    ) -> None:
        self.plans = plans
        self.rules = rules
        self.beats = beats
        self.pattern_beats = sum(beats, ZERO)
        self.seed = seed
        self.homes = home_centres(
            plans[0].key,
            rules.voicings,
            clear_of(rules.centre, lead_range),
            on_guitar=rules.instrument in COMPING_GUITARS,
        )
        self._listener: Listener | None = None
        self._known_steps: dict[int, list[Step]] = {}
        self._voiced: dict[int, list[tuple[Chord, Voicing] | None]] = {}
        self.laid: list[tuple[PatternChoice, int]] = lay_out(
            plans, rules.patterns, seed, "comping", steady=rules.steady
        )

    def listen(self, listener: Listener) -> None:
        """Play by a line from here on."""
        self._listener = listener
        self.laid = listener.laid(self.plans, self.laid)

    def strokes(self, index: int) -> list[_Stroke]:
        plan = self.plans[index]
        if plan.stops or plan.ends:
            return self._struck_together(plan)
        steps = self._steps(index)
        if self.rules.picked:
            return self._picked(plan, steps)
        if plan.before_hits:
            steps = [s for s in steps if s.sign != ">" or self._beat_after(plan, s) is not None]
        if index > 0 and self._is_pushed(index - 1) and steps and steps[0].onset_beats == 0:
            steps = steps[1:]
        strokes = []
        for step in steps:
            stroke = self._push(index, step) if step.sign == ">" else self._stroke(plan, step)
            if stroke is not None:
                strokes.append(stroke)
        return _without_doubles(strokes + self._missing(index, strokes))

    def _steps(self, index: int) -> list[Step]:
        known = self._known_steps.get(index)
        if known is None:
            choice, place = self.laid[index]
            plan = self.plans[index]
            known = list(fit(choice.bars[place], self.pattern_beats, plan.length_beats))
            if self._listener is not None:
                others = [c.bars[place] for c in self.rules.patterns if c.length == choice.length]
                known = self._listener.steps(plan, known, others)
            self._known_steps[index] = known
        return known

    def _is_pushed(self, index: int) -> bool:
        """Whether a bar ends with the next bar's chord struck ahead."""
        plan = self.plans[index]
        if plan.stops or plan.ends or "comping" in plan.resting or self.rules.picked:
            return False
        steps = self._steps(index)
        return bool(steps) and steps[-1].sign == ">" and self._beat_after(plan, steps[-1]) is None

    def _beat_after(self, plan: BarPlan, step: Step) -> Fraction | None:
        """The next beat of the bar after a step; None for the bar line."""
        onset = ZERO
        for beat in self.beats:
            if onset > step.onset_beats and onset < plan.length_beats:
                return onset
            onset += beat
        return None

    def _voicing_at(self, plan: BarPlan, onset: Fraction) -> tuple[Chord, Voicing] | None:
        """The chord at a time of the bar and its voicing."""
        if plan.index not in self._voiced:
            self._voiced[plan.index] = self._voice(plan)
        return self._voiced[plan.index][plan.segments.index(plan.segment_at(onset))]

    def _voice(self, plan: BarPlan) -> list[tuple[Chord, Voicing] | None]:
        """A voicing for each chord of a bar: nearest to the section's register and to the one before."""
        start = plan.bar.form_number - plan.in_section
        section = random.Random(f"{self.seed}/comping/register/{plan.bar.chorus}/{start}")
        centre = section.choice(self.homes)
        before: Voicing | None = None
        voiced: list[tuple[Chord, Voicing] | None] = []
        for segment in plan.segments:
            if segment.chord is None:
                voiced.append(None)
                continue
            before = lead_to(segment.chord, segment.reading.scale, self.rules, centre, before)
            voiced.append((segment.chord, before))
        return voiced

    def _stroke(self, plan: BarPlan, step: Step) -> _Stroke | None:
        found = self._voicing_at(plan, step.onset_beats)
        if found is None:
            return None
        room = plan.segment_at(step.onset_beats).end_beats - step.onset_beats
        muted = step.sign == "x"
        loudness = _MUTED_LOUDNESS if muted else int(step.sign)
        length = min(step.length_beats, room)
        return _Stroke(step.onset_beats, length, loudness, *found, is_muted=muted)

    def _push(self, index: int, step: Step) -> _Stroke | None:
        """A stroke ahead of the beat on the chord that begins there."""
        plan = self.plans[index]
        beat = self._beat_after(plan, step)
        if beat is not None:
            found = self._voicing_at(plan, beat)
            if found is None:
                return None
            end = min(max(step.end_beats, beat), plan.segment_at(beat).end_beats)
            return _Stroke(step.onset_beats, end - step.onset_beats, _PUSH_LOUDNESS, *found)
        later = self.plans[(index + 1) % len(self.plans)]
        found = self._voicing_at(later, ZERO)
        if found is None:
            own = self._stroke(plan, replace(step, sign=str(_PUSH_LOUDNESS)))
            return own and replace(own, leads_on=True)
        length = plan.length_beats - step.onset_beats
        goes_on = index + 1 < len(self.plans) and not (
            later.stops or later.ends or "comping" in later.resting
        )
        if goes_on:
            held = [s.length_beats for s in self._steps(index + 1) if s.onset_beats == 0]
            length += min([*held, later.segments[0].end_beats]) if held else ZERO
        length = max(length, step.length_beats)
        return _Stroke(step.onset_beats, length, _PUSH_LOUDNESS, *found, leads_on=True)

    def _missing(self, index: int, strokes: Sequence[_Stroke]) -> list[_Stroke]:
        """A stroke for every chord that begins inside the bar without one; the loop's first beat."""
        plan = self.plans[index]
        added = []
        for segment in plan.segments:
            is_first = plan.index == 0 and segment.onset_beats == 0
            if segment.chord is None or not (segment.onset_beats > 0 or is_first):
                continue
            end = segment.onset_beats if is_first else segment.end_beats
            heard = any(_is_heard(segment, end, s) for s in strokes if not (s.is_muted or s.leads_on))
            found = self._voicing_at(plan, segment.onset_beats)
            if not heard and found is not None:
                later = [s.onset_beats for s in strokes if s.onset_beats > segment.onset_beats]
                room = min([segment.end_beats, segment.onset_beats + 1, *later]) - segment.onset_beats
                added.append(_Stroke(segment.onset_beats, room, _FILLER_LOUDNESS, *found))
        return added

    def _picked(self, plan: BarPlan, steps: Sequence[Step]) -> list[_Stroke]:
        strokes = []
        for step in steps:
            found = self._voicing_at(plan, step.onset_beats)
            if found is None:
                continue
            chord, voicing = found
            end = plan.segment_at(step.onset_beats).end_beats
            voice = min(int(step.sign), len(voicing.pitches)) - 1
            length = min(step.length_beats, end - step.onset_beats)
            ring = end - step.onset_beats
            strokes.append(
                _Stroke(
                    step.onset_beats,
                    length,
                    _PICKED_LOUDNESS,
                    chord,
                    voicing,
                    voice=voice,
                    ring_beats=ring,
                )
            )
        return strokes

    def _struck_together(self, plan: BarPlan) -> list[_Stroke]:
        """The band's hits; at the end of the piece the chord of its last bar."""
        loudness: float = _STOP_LOUDNESS
        struck = [(hit.onset_beats, hit.length_beats) for hit in plan.hits or ()]
        if plan.ends:
            struck, loudness = [(ZERO, plan.length_beats)], self.rules.loudest or _PICKED_LOUDNESS
        found = []
        for onset, length in struck:
            voiced = self._voicing_at(plan, onset)
            if voiced is not None:
                found.append(_Stroke(onset, length, loudness, *voiced))
        return found


def _is_heard(segment: Segment, end: Fraction, stroke: _Stroke) -> bool:
    """Whether a segment's chord is struck in it (up to ``end``), or sounds into it from before."""
    if stroke.chord != segment.chord:
        return False
    onset = stroke.onset_beats
    if onset < segment.onset_beats:
        return segment.onset_beats < onset + stroke.length_beats
    return onset <= end and onset < segment.end_beats


def _without_doubles(strokes: Sequence[_Stroke]) -> list[_Stroke]:
    """In order, each ending where the next begins."""
    ordered = sorted(strokes, key=lambda stroke: stroke.onset_beats)
    single: list[_Stroke] = []
    for stroke in ordered:
        if single and single[-1].onset_beats == stroke.onset_beats:
            continue
        if single and single[-1].onset_beats + single[-1].length_beats > stroke.onset_beats:
            last = single[-1]
            single[-1] = replace(last, length_beats=stroke.onset_beats - last.onset_beats)
        single.append(stroke)
    return single


def _notes(
    strokes: Sequence[_Stroke],
    plan: BarPlan,
    time: PlayerTime,
    rules: CompingRules,
    seed: int,
    *,
    under_lead: bool,
) -> list[Note]:
    rng = plan.generator(seed, "comping", "touch")
    timing, humanise = time.feel, time.humanise
    on_guitar = rules.instrument in COMPING_GUITARS
    struck = [stroke.onset_beats for stroke in strokes]
    notes = []
    for stroke in strokes:
        onset = plan.bar.onset_beats + stroke.onset_beats
        shift = time.swung(onset)
        delay_ms = time.delay_ms(onset, rng)
        end = onset + (stroke.ring_beats or stroke.length_beats)
        sounding = (end + time.swung(end) - onset - shift) * (1 if stroke.ring_beats else _GATE)
        latest = time.room(onset, end)
        if stroke.is_muted:
            sounding = _MUTED_BEATS
        if stroke.voice is None:
            voices = list(range(len(stroke.voicing.pitches)))
            voices = _thinned(voices, stroke) if under_lead else voices
        else:
            voices = [stroke.voice]
        top = _NO_VOICE if under_lead else len(stroke.voicing.pitches) - 1
        if on_guitar and is_up(stroke.onset_beats, plan.bar.meter.pulses, struck):
            voices = voices[::-1]
        spread = spread_ms(stroke.loudness, len(voices), rules.strum_ms, on_guitar=on_guitar)
        step_ms = humanise * spread / max(1, len(voices) - 1)
        for order, voice in enumerate(voices):
            strum = timing.milliseconds(onset, order * step_ms)
            length = max(SHORTEST_BEATS, min(sounding, latest - strum))
            offset = shift + timing.milliseconds(onset, delay_ms) + strum
            accent = _TOP_VOICE_VELOCITY if voice == top else 0
            notes.append(_note(stroke, voice, accent, onset, offset, length, plan, rules, rng, humanise))
    return notes


def _thinned(voices: list[int], stroke: _Stroke) -> list[int]:
    """A full chord without its perfect fifth, the note missed least [common practice]."""
    if len(voices) < _FULL_CHORD or stroke.is_muted:
        return voices
    fifth = (stroke.chord.root.pitch_class + _FIFTH) % 12
    pitches = stroke.voicing.pitches
    inner = [voice for voice in voices[:-1] if pitches[voice].pitch_class == fifth]
    return [voice for voice in voices if voice not in inner[:1]]


def _note(
    stroke: _Stroke,
    voice: int,
    accent: int,
    onset: Fraction,
    offset: Fraction,
    sounding: Fraction,
    plan: BarPlan,
    rules: CompingRules,
    rng: random.Random,
    humanise: float,
) -> Note:
    pitch = stroke.voicing.pitches[voice]
    velocity = velocity_of(stroke.loudness) * plan.level + accent
    return Note(
        onset_beats=onset,
        duration_beats=stroke.length_beats,
        pitch=pitch,
        velocity=rules.touch.velocity_of(velocity, rng, humanise),
        articulation=Articulation.DEAD if stroke.is_muted else Articulation.NORMAL,
        offset_beats=offset,
        sounding_beats=sounding,
        fretting=stroke.voicing.frettings[voice] if stroke.voicing.frettings else None,
        degree=stroke.chord.degree_of(pitch.pitch_class),
    )
