"""The drummer: layers of a groove, fills where something ends, a crash where something begins."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from genex.band.bar_plans import BarPlan, lay_out
from genex.band.ensemble_time import PlayerTime
from genex.band.feel_timing import settle
from genex.band.fills import Fill, Rank, deal_fills
from genex.band.groove import DrumRules, velocity_of
from genex.band.kit import KIT_PROGRAMS, VOICES, Limb, playable
from genex.band.pattern_notation import StepBar, fit
from genex.exact import Fraction
from genex.score import Articulation, Note, Part, Role
from genex.theory import Pitch

CRASH_CHANCE = 0.75
GHOST_LOUDNESS = 2
_LOUDEST = 9
_ACCENT = 2
_DRUM_ACCENT = 1
_BACKBEAT_LOUDNESS = 4
_SNARES = frozenset(("snare", "side stick", "hand clap", "brush slap"))
"""What plays the backbeat, when it is as loud as that; ghost notes keep to the cymbals."""
_KEEPS_TIME = ("ride", "hi-hat", "brush sweep", "maracas", "cabasa", "shaker", "tambourine", "triangle")
"""Words in the names of what is struck all through, and lightly: it adds nothing to a peak."""
ZERO = Fraction(0)

Strokes = dict[Fraction, dict[str, int]]
"""Loudness by voice, by onset inside the bar."""


def play_drums(
    plans: Sequence[BarPlan],
    rules: DrumRules,
    beats: tuple[Fraction, ...],
    time: PlayerTime,
    *,
    seed: int,
    rests: Mapping[int, Fraction] | None = None,
) -> Part:
    """The drum part. ``beats`` are the lengths of the beats of a pattern's bar.

    Where there is a line, ``rests`` says in which bars (by index) it ends a phrase, and from where on
    it rests there.
    """
    pattern_beats = sum(beats, ZERO)
    layers = [
        lay_out(plans, layer, seed, "drums", f"layer {number}", steady=rules.steady)
        for number, layer in enumerate(rules.layers)
    ]
    fills = deal_fills(plans, rules, beats, seed, rests)
    notes: list[Note] = []
    for index, plan in enumerate(plans):
        if "drums" in plan.resting:
            continue
        chosen = [laid[index] for laid in layers]
        strokes = _bar_strokes([choice.bars[place] for choice, place in chosen], plan, pattern_beats)
        if plan.stops or plan.ends:
            strokes = _struck_together(strokes, plan, rules)
        else:
            if index in fills:
                _fill_in(strokes, plan, *fills[index])
            _mark_section(strokes, plan, rules, seed)
        notes += _notes(strokes, plan, time, rules, seed)
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


def _struck_together(strokes: Strokes, plan: BarPlan, rules: DrumRules) -> Strokes:
    """The band's hits; where the piece ends only the one on its last bar, with kick and crash.

    A hit on one is what the pattern has there. Others are kick and snare, or what stands for it in
    the feel, and a held one kick and crash [common practice].
    """

    def loud(*names: str) -> dict[str, int]:
        return {name: loudness for name in names if (loudness := rules.loudest(name))}

    crash = rules.crash
    held = {} if crash is None else {crash: rules.crash_loudness, **loud("kick")}
    first = dict(strokes.get(ZERO, {}))
    if plan.ends:
        return {ZERO: held or first} if held or first else {}
    short = loud("kick", max(sorted(_SNARES), key=rules.loudest))
    found = {}
    for hit in plan.hits or ():
        on_one = first if hit.onset_beats == ZERO else {}
        found[hit.onset_beats] = (held if hit.is_held else on_one) or short or first
    return {onset: struck for onset, struck in found.items() if struck}


def _fill_in(strokes: Strokes, plan: BarPlan, rank: Rank, fill: Fill) -> None:
    """A fill in place of everything from its first stroke to the bar's end."""
    end = plan.length_beats
    for onset in [onset for onset in strokes if onset >= end - fill.length_beats]:
        del strokes[onset]
    for before_end, voice, loudness in fill.at(rank):
        strokes.setdefault(end + before_end, {})[voice] = loudness


def _mark_section(strokes: Strokes, plan: BarPlan, rules: DrumRules, seed: int) -> None:
    """The first beat of a chorus, and mostly that of a section: a crash and the kick, in place of one
    hand's stroke; where the feel has no crash, the chorus begins with an accent."""
    is_top = plan.is_chorus_top
    if not (is_top or plan.is_section_start) or plan.count < 2:
        return
    if rules.crash is None:
        if is_top and rules.fills:
            _accent(strokes, rules)
        return
    if not is_top and plan.generator(seed, "drums", "crash").random() >= CRASH_CHANCE:
        return
    first = strokes.setdefault(ZERO, {})
    hands = [name for name in first if VOICES[name].limb is Limb.HAND]
    time_keepers = [name for name in hands if "ride" in name or "hi-hat" in name]
    for name in time_keepers[:1] or hands[1:]:
        del first[name]
    first[rules.crash] = rules.crash_loudness if is_top else max(1, rules.crash_loudness - 1)
    first.setdefault("kick", 6)


def _accent(strokes: Strokes, rules: DrumRules) -> None:
    """The stroke on one louder, with the kick as it is elsewhere: the hands make the accent."""
    first = strokes.setdefault(ZERO, {})
    for name, loudness in first.items():
        if VOICES[name].limb is Limb.HAND or len(first) == 1:
            first[name] = min(_LOUDEST, loudness + (_ACCENT if _keeps_time(name) else _DRUM_ACCENT))
    kick = rules.loudest("kick")
    if kick:
        first.setdefault("kick", kick)


def _keeps_time(name: str) -> bool:
    return any(word in name for word in _KEEPS_TIME)


def _shared(strokes: Mapping[str, int], rules: DrumRules, *, is_last: bool) -> float:
    """The factor on velocity by which drums are softer that are struck at once with a crash, or on the
    last stroke of a piece, so that they are as loud together as one of them alone: power goes with
    the fourth power of velocity [published: SoundFont Technical Specification 2.04, 8.4.1].

    Beats without a crash keep their weight: they are what a listener counts by.
    """
    if not is_last and (rules.crash is None or rules.crash not in strokes):
        return 1.0
    struck = [name for name, loudness in strokes.items() if loudness > GHOST_LOUDNESS]
    return float(max(1, sum(not _keeps_time(name) for name in struck)) ** -0.25)


def _notes(strokes: Strokes, plan: BarPlan, time: PlayerTime, rules: DrumRules, seed: int) -> list[Note]:
    rng = plan.generator(seed, "drums", "touch")
    timing, humanise = time.feel, time.humanise
    notes = []
    for onset in sorted(strokes):
        at = plan.bar.onset_beats + onset
        swung = time.swung(at)
        struck = playable(strokes[onset])
        shared = _shared(struck, rules, is_last=plan.ends)
        for name, loudness in sorted(struck.items()):
            voice = VOICES[name]
            late_ms = time.delay_ms(at, rng)
            if name in _SNARES and loudness >= _BACKBEAT_LOUDNESS:
                late_ms += humanise * rules.snare_ms
            delay = timing.milliseconds(at, late_ms)
            share = 1.0 if _keeps_time(name) else shared
            velocity = velocity_of(loudness) * plan.level * share
            velocity = rules.touch.velocity_of(velocity, rng, humanise)
            is_ghost = loudness <= GHOST_LOUDNESS and name in ("snare", "brush tap", "side stick")
            notes.append(
                Note(
                    onset_beats=at,
                    duration_beats=min(voice.ring_beats, plan.length_beats - onset),
                    pitch=Pitch.from_midi(voice.key),
                    velocity=velocity,
                    articulation=Articulation.GHOST if is_ghost else Articulation.NORMAL,
                    offset_beats=swung + delay,
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
        if note.written_end_beats > end:
            note = replace(note, duration_beats=end - note.onset_beats)
        shortened.append(note)
        following[note.midi] = note.onset_beats
    return shortened
