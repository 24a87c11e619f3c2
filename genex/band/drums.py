"""The drummer: layers of a groove, fills where sections end, a crash where they begin."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from genex.band.bar_plans import BarPlan, choose, lay_out
from genex.band.feel_timing import FeelTiming, settle
from genex.band.groove import DrumChoice, DrumRules, velocity_of
from genex.band.kit import KIT_PROGRAMS, VOICES, Limb, playable
from genex.band.pattern_notation import StepBar, fit
from genex.exact import Fraction
from genex.score import Articulation, Note, Part, Role
from genex.theory import Pitch

FILL_CHANCE = 0.92
PHRASE_FILL_CHANCE = 0.3
CRASH_CHANCE = 0.75
LONG_SECTION_BARS = 8
GHOST_LOUDNESS = 2
ZERO = Fraction(0)

Strokes = dict[Fraction, dict[str, int]]
"""Loudness by voice, by onset inside the bar."""


def play_drums(
    plans: Sequence[BarPlan],
    rules: DrumRules,
    beats: tuple[Fraction, ...],
    timing: FeelTiming,
    *,
    seed: int,
    humanise: float,
) -> Part:
    """The drum part. ``beats`` are the lengths of the beats of a pattern's bar."""
    pattern_beats = sum(beats, ZERO)
    layers = [
        lay_out(plans, layer, seed, "drums", f"layer {number}", steady=rules.steady)
        for number, layer in enumerate(rules.layers)
    ]
    notes: list[Note] = []
    for index, plan in enumerate(plans):
        if "drums" in plan.resting:
            continue
        chosen = [laid[index] for laid in layers]
        strokes = _bar_strokes([choice.bars[place] for choice, place in chosen], plan, pattern_beats)
        if plan.stops or plan.ends:
            strokes = _struck_once(strokes, rules, crash=plan.ends)
        else:
            _fill_in(strokes, plan, rules, pattern_beats, seed)
            _mark_section(strokes, plan, rules, seed)
        notes += _notes(strokes, plan, timing, rules, seed, humanise)
    return Part.of(
        "drums",
        Role.DRUMS,
        KIT_PROGRAMS[rules.kit],
        settle(_let_ring(notes, plans), plans[-1].bar.end_beats),
        mix=rules.mix,
    )


def _bar_strokes(
    layers: Sequence[Mapping[str, StepBar]], plan: BarPlan, pattern_beats: Fraction
) -> Strokes:
    strokes: Strokes = {}
    for layer in layers:
        for voice, bar in layer.items():
            for step in fit(bar, pattern_beats, plan.length_beats):
                at = strokes.setdefault(step.onset_beats, {})
                at[voice] = max(at.get(voice, 0), int(step.sign))
    return strokes


def _struck_once(strokes: Strokes, rules: DrumRules, *, crash: bool) -> Strokes:
    """Only the stroke on one; where the piece ends the kick and a crash, as loud as elsewhere."""
    first = dict(strokes.get(ZERO, {}))
    if crash and rules.crash is not None:
        kick = rules.loudest("kick")
        first = {rules.crash: rules.crash_loudness, **({"kick": kick} if kick else {})}
    return {ZERO: first} if first else {}


def _fill_in(
    strokes: Strokes, plan: BarPlan, rules: DrumRules, pattern_beats: Fraction, seed: int
) -> None:
    """A fill from its first stroke to the bar's end, where a section or a phrase ends.

    Fills of more than half a bar close sections of eight bars and more.
    """
    is_close = plan.is_section_end or plan.before_end
    if not rules.fills or not (is_close or plan.is_phrase_end) or plan.count < 2:
        return
    rng = plan.generator(seed, "drums", "fill")
    if rng.random() >= (FILL_CHANCE if is_close else PHRASE_FILL_CHANCE):
        return
    is_large = is_close and plan.section_bars >= LONG_SECTION_BARS
    fitting = [
        fill
        for fill in rules.fills
        if is_large or _fill_length(fill, pattern_beats) * 2 <= pattern_beats
    ]
    if not fitting:
        return
    fill = choose(rng, fitting)
    start = plan.length_beats - _fill_length(fill, pattern_beats)
    if start < 0:
        return
    for onset in [onset for onset in strokes if onset >= start]:
        del strokes[onset]
    shift = plan.length_beats - pattern_beats
    for voice, bar in fill.bars[0].items():
        for step in bar:
            strokes.setdefault(step.onset_beats + shift, {})[voice] = int(step.sign)


def _fill_length(fill: DrumChoice, pattern_beats: Fraction) -> Fraction:
    """From the first stroke of a fill to the end of its bar."""
    return pattern_beats - min(step.onset_beats for bar in fill.bars[0].values() for step in bar)


def _mark_section(strokes: Strokes, plan: BarPlan, rules: DrumRules, seed: int) -> None:
    """A crash and the kick on the first beat of a section, in place of one hand's stroke."""
    if rules.crash is None or not plan.is_section_start or plan.count < 2:
        return
    if plan.generator(seed, "drums", "crash").random() >= CRASH_CHANCE:
        return
    first = strokes.setdefault(ZERO, {})
    hands = [name for name in first if VOICES[name].limb is Limb.HAND]
    time_keepers = [name for name in hands if "ride" in name or "hi-hat" in name]
    for name in time_keepers[:1] or hands[1:]:
        del first[name]
    first[rules.crash] = rules.crash_loudness
    first.setdefault("kick", 6)


def _notes(
    strokes: Strokes, plan: BarPlan, timing: FeelTiming, rules: DrumRules, seed: int, humanise: float
) -> list[Note]:
    rng = plan.generator(seed, "drums", "touch")
    notes = []
    for onset in sorted(strokes):
        at = plan.bar.onset_beats + onset
        for name, loudness in sorted(playable(strokes[onset]).items()):
            voice = VOICES[name]
            delay = timing.milliseconds(at, rules.touch.delay_ms(rng, humanise))
            velocity = rules.touch.velocity_of(velocity_of(loudness) * plan.level, rng, humanise)
            is_ghost = loudness <= GHOST_LOUDNESS and name in ("snare", "brush tap", "side stick")
            notes.append(
                Note(
                    onset_beats=at,
                    duration_beats=min(voice.ring_beats, plan.length_beats - onset),
                    pitch=Pitch.from_midi(voice.key),
                    velocity=velocity,
                    articulation=Articulation.GHOST if is_ghost else Articulation.NORMAL,
                    offset_beats=timing.offset(at) + delay,
                    sounding_beats=voice.ring_beats,
                )
            )
    return notes


def _let_ring(notes: Sequence[Note], plans: Sequence[BarPlan]) -> list[Note]:
    """Written lengths up to the next stroke of the same voice."""
    following: dict[int, Fraction] = {}
    shortened = []
    for note in sorted(notes, key=lambda note: note.onset_beats, reverse=True):
        end = following.get(note.midi, plans[-1].bar.end_beats)
        shortened.append(replace(note, duration_beats=min(note.duration_beats, end - note.onset_beats)))
        following[note.midi] = note.onset_beats
    return shortened
