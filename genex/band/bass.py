"""The bass player: walking lines, or patterns of roots, fifths and approaches.

Signs of a bass pattern: ``R`` root or slash bass; ``2`` to ``8`` that degree of the chord above
the root; ``v`` the fifth below; ``a`` a note that leads to the next chord; ``n`` the next root
ahead of time; ``x`` a dead note; ``T`` and ``D`` tonic and dominant of the key, held as a pedal.
Where a chord changes and the pattern has no root, the root is put in, so changes are heard.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import zip_longest

from genex.band.bar_plans import SHORTEST_BEATS, BarPlan, Segment, lay_out
from genex.band.bass_tones import degree_name
from genex.band.ensemble_time import PlayerTime
from genex.band.feel_timing import settle
from genex.band.groove import BassRules, PatternChoice, WalkRules, velocity_of
from genex.band.kit import program_of
from genex.band.pattern_notation import Step, fit
from genex.band.walking import HIGHEST, LOWEST, OCTAVE, Ground, approach, ground, lowest_root, walk
from genex.exact import Fraction
from genex.fretboard import TUNINGS
from genex.score import Articulation, Note, Part, Role
from genex.theory import Chord, Key, Pitch

BASS_SIGNS = "R2345678vanxTD"
_ROOT_SIGNS = "R8"
ZERO = Fraction(0)

_WAVE_SEMITONES = 3.0
_GATE = Fraction(19, 20)
_DEAD_BEATS = Fraction(1, 8)
_LOUDNESS = {"x": 3.0, "a": 5.6, "R": 6.6}
_DOWNBEAT_ACCENT = 0.4
_STOP_LOUDNESS = 7.5


@dataclass(frozen=True, slots=True)
class _Tone:
    """A note of the line before timing and touch: onset and length inside the bar."""

    onset_beats: Fraction
    length_beats: Fraction
    pitch: Pitch
    loudness: float
    articulation: Articulation = Articulation.NORMAL


def play_bass(
    plans: Sequence[BarPlan],
    rules: BassRules,
    beats: tuple[Fraction, ...],
    time: PlayerTime,
    *,
    seed: int,
) -> Part:
    """The bass part."""
    pattern_beats = sum(beats, ZERO)
    laid = lay_out(plans, rules.patterns, seed, "bass", steady=rules.steady) if rules.patterns else []
    notes: list[Note] = []
    for index, plan in enumerate(plans):
        if "bass" in plan.resting:
            continue
        following = _following_ground(plans, index, rules, seed)
        centre = _centre(plan, rules, seed)
        if plan.stops or plan.ends:
            tones = _struck_together(plan, centre)
        elif rules.walk is not None:
            tones = _walking(plan, centre, following, rules, seed)
        else:
            choice, place = laid[index]
            steps: Sequence[Step] = fit(choice.bars[place], pattern_beats, plan.length_beats)
            carried = index > 0 and _carries(laid[index - 1], plans[index - 1])
            if plan.before_hits:
                steps = [step for step in steps if step.sign != "n"]
            steps = _carried_on(plans, index, steps, laid, pattern_beats)
            inverted = "" if carried else _inverted(plan, rules, seed)
            steps = _turned(steps, inverted) if inverted else steps
            held_on = carried or bool(inverted)
            tones = _pattern(plan, steps, centre, following, seed, is_carried=held_on)
        notes += _notes(tones, plan, time, rules, seed)
    length = plans[-1].bar.end_beats
    return Part.of(
        "bass",
        Role.BASS,
        program_of(rules.instrument),
        settle(_single(notes), length),
        strings=TUNINGS["four-string bass"].strings,
        mix=rules.mix,
    )


def _carries(laid: tuple[PatternChoice, int], plan: BarPlan) -> bool:
    """Whether a bar ends on a root struck ahead for the next one."""
    choice, place = laid
    bar = choice.bars[place]
    is_playing = "bass" not in plan.resting and not plan.stops
    return is_playing and bool(bar) and bar[-1].sign == "n"


def _carried_on(
    plans: Sequence[BarPlan],
    index: int,
    steps: Sequence[Step],
    laid: Sequence[tuple[PatternChoice, int]],
    pattern_beats: Fraction,
) -> Sequence[Step]:
    """A root struck ahead at the end of a bar sounds on to the first note of the next bar."""
    if index + 1 >= len(plans) or not steps or steps[-1].sign != "n":
        return steps
    later = plans[index + 1]
    if later.stops or later.ends or "bass" in later.resting:
        return steps
    choice, place = laid[index + 1]
    bar = fit(choice.bars[place], pattern_beats, later.length_beats)
    first = bar[0].onset_beats if bar else later.length_beats
    room = plans[index].length_beats - steps[-1].onset_beats
    longer = room + min(first, later.segments[0].end_beats)
    return [*steps[:-1], replace(steps[-1], length_beats=max(longer, steps[-1].length_beats))]


def _centre(plan: BarPlan, rules: BassRules, seed: int) -> float:
    return rules.centre + plan.wave(seed, "bass", _WAVE_SEMITONES)


def _following_ground(
    plans: Sequence[BarPlan], index: int, rules: BassRules, seed: int
) -> Ground | None:
    """Where the chord after a bar stands; after the last bar the first one."""
    plan = plans[index]
    later = plans[(index + 1) % len(plans)]
    return ground(plan.following, _centre(later, rules, seed))


def _struck_together(plan: BarPlan, centre: float) -> list[_Tone]:
    """Roots on the band's hits; at the end of the piece the one of its last bar."""
    if plan.ends:  # no louder than any first beat
        here = ground(plan.segments[0].reading, centre)
        loudness = _LOUDNESS["R"] + _DOWNBEAT_ACCENT
        return [] if here is None else [_Tone(ZERO, plan.length_beats, here.root, loudness)]
    found = []
    for hit in plan.hits or ():
        here = ground(plan.segment_at(hit.onset_beats).reading, centre)
        if here is not None:
            tone = _Tone(
                hit.onset_beats, hit.length_beats, here.root, _STOP_LOUDNESS, Articulation.ACCENT
            )
            found.append(tone)
    return found


def _pulses(plan: BarPlan, segment: Segment) -> list[Fraction]:
    """Onsets of a walking line inside a segment: its start and every pulse after it."""
    inside = [p for p in plan.bar.meter.pulses if segment.onset_beats < p < segment.end_beats]
    return [segment.onset_beats, *inside]


def _inverted(plan: BarPlan, rules: BassRules, seed: int) -> str:
    """The sign of what a bar begins on where its chord goes on from the bar before and is not struck
    on its root again: third or fifth; empty for the root.

    A chord with a bass of its own, and one that lacks third or perfect fifth, keeps what it has.
    """
    chord = plan.segments[0].chord
    if not plan.goes_on or chord is None or chord.bass != chord.root or not rules.inversions:
        return ""
    rng = plan.generator(seed, "bass", "inversion")
    if rng.random() >= rules.inversions:
        return ""
    found = [(number, chord.find(number)) for number in (3, 5)]
    signs = [str(number) for number, degree in found if degree and (number == 3 or degree.alter == 0)]
    return rng.choice(signs) if signs else ""


def _turned(steps: Sequence[Step], sign: str) -> Sequence[Step]:
    """A pattern that begins on its root, begun on a third or fifth; the root comes after it instead of
    that note."""
    if not steps or steps[0].onset_beats > 0 or steps[0].sign != "R":
        return steps
    later = list(steps[1:])
    same = "5v" if sign == "5" else sign
    if later and later[0].sign in same:
        later[0] = replace(later[0], sign="R")
    return [replace(steps[0], sign=sign), *later]


def _walking(
    plan: BarPlan, centre: float, following: Ground | None, rules: BassRules, seed: int
) -> list[_Tone]:
    assert rules.walk is not None
    inverted = _inverted(plan, rules, seed)
    tones: list[_Tone] = []
    for number, segment in enumerate(plan.segments):
        here = ground(segment.reading, centre)
        if here is None:
            continue
        rng = plan.generator(seed, "bass", str(number))
        last = number == len(plan.segments) - 1
        target = following if last else ground(plan.after(segment), centre)
        onsets = _pulses(plan, segment)
        if inverted and number == 0:
            start = degree_name(segment.reading, int(inverted))
            here = replace(here, root=start.at_or_above(lowest_root(centre)))
        line = walk(here, len(onsets), target, rng)
        ends = [*onsets[1:], segment.end_beats]
        for onset, end, pitch in zip(onsets, ends, line, strict=True):
            tones.append(_Tone(onset, end - onset, pitch, 6.4 if onset == ZERO else 6.0))
    return _skipped(tones, plan, rules.walk, seed)


def _skipped(tones: list[_Tone], plan: BarPlan, rules: WalkRules, seed: int) -> list[_Tone]:
    """Sometimes a bar leaves the even quarters: dead notes between, or a note that is held.

    What players do to a walking line [common practice]: skip (a dead note on the off-beat, once or
    twice), drop (two dead notes that make a triplet), rest on a note for two beats.
    """
    rng = plan.generator(seed, "bass", "skip")
    if rng.random() >= rules.skips or len(tones) < 3:
        return tones
    kind = rng.choices(("skip", "two skips", "drop", "hold"), (5, 2, 2, 1.5))[0]
    places = range(len(tones))
    if kind == "hold":
        place = rng.choice(places[:-2])
        longer = tones[place].length_beats + tones[place + 1].length_beats
        return [*tones[:place], replace(tones[place], length_beats=longer), *tones[place + 2 :]]
    parts = 3 if kind == "drop" else 2
    struck = sorted(rng.sample(places, 2 if kind == "two skips" else 1))
    return [
        piece
        for place, tone in enumerate(tones)
        for piece in (_parted(tone, parts) if place in struck else [tone])
    ]


def _parted(tone: _Tone, parts: int) -> list[_Tone]:
    """A note and the dead notes behind it that fill its time; whole if it is shorter than a beat."""
    if tone.length_beats < 1:
        return [tone]
    length = tone.length_beats / parts
    dead = [
        _Tone(tone.onset_beats + index * length, length, tone.pitch, 3.2, Articulation.DEAD)
        for index in range(1, parts)
    ]
    return [replace(tone, length_beats=length), *dead]


def _pattern(
    plan: BarPlan,
    steps: Sequence[Step],
    centre: float,
    following: Ground | None,
    seed: int,
    *,
    is_carried: bool,
) -> list[_Tone]:
    """A pattern's steps as pitches over the bar's chords, with a root wherever a chord begins."""
    roll = plan.generator(seed, "bass").random()
    is_pedal = any(step.sign in "TD" for step in steps)
    tones: list[_Tone] = []
    for segment in plan.segments:
        here = ground(segment.reading, centre)
        if here is None:
            continue
        is_last = segment is plan.segments[-1]
        target = following if is_last else ground(plan.after(segment), centre)
        inside = [
            step
            for step in (steps if is_pedal else _rooted(plan, steps, is_carried=is_carried))
            if segment.onset_beats <= step.onset_beats < segment.end_beats
        ]
        pitches = _pitches([step.sign for step in inside], here, target, plan.key, roll)
        tones += [_tone(step, pitch) for step, pitch in zip(inside, pitches, strict=True)]
    return tones


def _tone(step: Step, pitch: Pitch) -> _Tone:
    return _Tone(
        step.onset_beats,
        step.length_beats,
        pitch,
        _LOUDNESS.get(step.sign, 6.0) + (_DOWNBEAT_ACCENT if step.onset_beats == ZERO else 0.0),
        Articulation.DEAD if step.sign == "x" else Articulation.NORMAL,
    )


def _rooted(plan: BarPlan, steps: Sequence[Step], *, is_carried: bool) -> list[Step]:
    """The steps with a root at the start of every chord that begins inside the bar.

    The first note of each chord becomes its root. A bar that begins with a hold needs a root on
    one, unless a root struck ahead of time (``n``) is carried into it.
    """
    rooted = [_inside(step, plan) for step in steps]
    if not is_carried and rooted and rooted[0].onset_beats > 0 and plan.index == 0:
        rooted.insert(0, Step(ZERO, min(Fraction(1), rooted[0].onset_beats), "R"))
    for segment in plan.segments:
        if segment.chord is None:
            continue
        onset = segment.onset_beats
        first = next(
            (i for i, s in enumerate(rooted) if onset <= s.onset_beats < segment.end_beats), None
        )
        if first is not None and (onset == 0 or rooted[first].onset_beats == onset):
            step = rooted[first]
            if step.sign not in _ROOT_SIGNS and not (onset == 0 and is_carried):
                rooted[first] = Step(step.onset_beats, step.length_beats, "R")
        elif onset > 0:
            _put_root(rooted, segment)
    return rooted


def _inside(step: Step, plan: BarPlan) -> Step:
    """Only a root struck ahead of time may sound on into the next bar."""
    room = plan.length_beats - step.onset_beats
    return step if step.sign == "n" or step.length_beats <= room else replace(step, length_beats=room)


def _put_root(rooted: list[Step], segment: Segment) -> None:
    """A root at the start of a chord where the pattern has no note."""
    onset = segment.onset_beats
    end = min([segment.end_beats, *(s.onset_beats for s in rooted if s.onset_beats > onset)])
    for index, step in enumerate(rooted):
        if step.onset_beats < onset < step.end_beats:
            rooted[index] = replace(step, length_beats=onset - step.onset_beats)
    rooted.append(Step(onset, end - onset, "R"))
    rooted.sort(key=lambda step: step.onset_beats)


def _pitches(
    signs: Sequence[str], here: Ground, following: Ground | None, key: Key, roll: float
) -> list[Pitch]:
    """The pitches of a pattern's signs over one chord.

    Each note is taken in the octave that its sign asks for where that leaves no leap over an
    octave; the first and the last one stay among the octaves of the roots, so the next root is never
    far, whatever it is. Before no chord (N.C.) the line leads back to its own root.
    """
    leading = [index for index, sign in enumerate(signs) if sign in "an"]
    target = following or here
    plain = [index for index in range(len(signs)) if index not in leading]
    wanted = {index: _wanted(signs[index], here, key) for index in plain}
    low = lowest_root(here.centre)
    paths: list[tuple[float, list[Pitch]]] = [(0.0, [])]
    for place, index in enumerate(plain):
        is_outer = place in (0, len(plain) - 1)
        grown = []
        for shift in (0, -1, 1):
            pitch = Pitch(wanted[index].name, wanted[index].octave + shift)
            lowest, highest = (low, low + OCTAVE - 1) if is_outer else (LOWEST, HIGHEST)
            if not lowest <= pitch.midi <= highest:
                continue
            fitting = [
                (cost + abs(shift) + 0.01 * _leap(path, pitch), path)
                for cost, path in paths
                if _leap(path, pitch) <= OCTAVE
            ]
            if fitting:
                cost, path = min(fitting, key=lambda item: item[0])
                grown.append((cost, [*path, pitch]))
        paths = grown or [(cost, [*path, here.root]) for cost, path in paths[:1]]
    line = min(paths, key=lambda item: item[0])[1]
    chosen = dict(zip(plain, line, strict=True))
    for index in leading:
        before = [chosen[i] for i in range(index) if i in chosen] or [here.root]
        is_early = signs[index] == "n"
        chosen[index] = target.root if is_early else approach(before, here, target, roll)
    return [chosen[index] for index in range(len(signs))]


def _leap(path: Sequence[Pitch], pitch: Pitch) -> int:
    return abs(pitch.midi - path[-1].midi) if path else 0


def _wanted(sign: str, here: Ground, key: Key) -> Pitch:
    """The pitch that a sign asks for, in the octave it asks for."""
    root, chord, reading = here.root, here.chord, here.reading
    if sign in "TD":
        name = key.tonic if sign == "T" else key.scale[4]
        return name.at_or_above(lowest_root(here.centre))
    if sign == "8":
        return Pitch(root.name, root.octave + 1)
    if sign == "v":
        return _other_than(root, chord, degree_name(reading, 5).at_or_below(root.midi))
    if sign.isdigit():
        return _other_than(root, chord, degree_name(reading, int(sign)).at_or_above(root.midi))
    return root


def _other_than(root: Pitch, chord: Chord, pitch: Pitch) -> Pitch:
    """``pitch``, or the chord's root where a slash bass already is that note."""
    if pitch.pitch_class != root.pitch_class:
        return pitch
    return chord.root.at_or_above(root.midi)


def _notes(
    tones: Sequence[_Tone],
    plan: BarPlan,
    time: PlayerTime,
    rules: BassRules,
    seed: int,
) -> list[Note]:
    rng: random.Random = plan.generator(seed, "bass", "touch")
    timing, humanise = time.feel, time.humanise
    notes = []
    for tone in tones:
        onset = plan.bar.onset_beats + tone.onset_beats
        shift = time.swung(onset)
        delay = timing.milliseconds(onset, time.delay_ms(onset, rng))
        velocity = rules.touch.velocity_of(velocity_of(tone.loudness) * plan.level, rng, humanise)
        end = onset + tone.length_beats
        sounding = (tone.length_beats + time.swung(end) - shift) * _GATE
        sounding = max(SHORTEST_BEATS, min(sounding, time.room(onset, end)))
        if tone.articulation is Articulation.DEAD:
            sounding = min(sounding, _DEAD_BEATS)
        notes.append(
            Note(
                onset_beats=onset,
                duration_beats=tone.length_beats,
                pitch=tone.pitch,
                velocity=velocity,
                articulation=tone.articulation,
                offset_beats=shift + delay,
                sounding_beats=sounding,
            )
        )
    return notes


def _single(notes: Sequence[Note]) -> list[Note]:
    """One note at a time: each ends, written and sounding, where the next begins."""
    ordered = sorted(notes, key=lambda note: note.onset_beats)
    single = []
    for note, later in zip_longest(ordered, ordered[1:]):
        if later is not None and note.written_end_beats > later.onset_beats:
            note = replace(note, duration_beats=later.onset_beats - note.onset_beats)
        if later is not None and note.end_beats > later.start_beats > note.start_beats:
            note = replace(note, sounding_beats=later.start_beats - note.onset_beats - note.offset_beats)
        single.append(note)
    return single
