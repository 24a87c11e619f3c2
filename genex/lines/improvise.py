"""Improvising tasks: a demonstration within the limits, then empty choruses to play in turn.

The demonstration keeps to what the class has to keep to: its notes, its place, its rhythm. In the
empty choruses the band plays on and nobody leads; captions say whose turn it is and what is allowed.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import permutations
from random import Random

from genex.exact import Fraction
from genex.exercises import Player
from genex.exercises.models.improvising import Aims, Improvise, InTurn
from genex.exercises.models.over_the_chart import Etude
from genex.lines.etude import phrases_of
from genex.lines.few_notes import from_few_notes
from genex.lines.limits import COUNTS, Limited, limited, place_of
from genex.lines.phrase import Phrase
from genex.lines.placement import Hold, chords_of, fretted_part, hold_over
from genex.lines.rhythm import PhraseRhythm, Style, draw_rhythm
from genex.lines.study_plan import CueSpan, Place, StudyPlan, Task, over_and_over
from genex.lines.targets import target_degree, target_line
from genex.score import Bar, Meter, Note, Role, Timeline
from genex.theory import Chord, Key

GIVEN_BARS = 2
"""Bars of a given rhythm, which comes again and again."""


def improvise(timeline: Timeline, exercise: Improvise, player: Player) -> StudyPlan:
    """The task over a form: of several choruses the first is taken. Raises LineError for limits that
    leave nothing to play."""
    form = first_chorus(timeline)
    hold = hold_over(chords_of(form, "improvise over"), exercise, player)
    inside, vocabulary, necks = limited(form, hold, exercise)
    given = _given(form, exercise, player) if exercise.rhythm == "given" else {}
    shown = over_and_over(form, max(1, exercise.demonstrations), form.tempo)
    model = Etude(level=exercise.level, bars=GIVEN_BARS if given else None, slides=False)
    phrases = phrases_of(shown, inside, model, player, vocabulary=vocabulary, given=given)
    few = exercise.tones is not None or exercise.notes in COUNTS
    if few and isinstance(vocabulary, Limited):
        phrases = from_few_notes(shown, phrases, vocabulary, f"{player.seed}/{player.title}/few")
    notes = [note for phrase in phrases for note in phrase.notes]
    rhythm = _times(phrases) if given else {}
    # A phrase lets go of its last note where it clashes; the class reads the rhythm as it is given.
    notes = [
        replace(note, duration_beats=rhythm.get(note.onset_beats, note.duration_beats)) for note in notes
    ]
    if few:
        fixed = [place_of(note.midi, hold) for note in notes]
        notes = hold.finger(notes, fixed=fixed)
    else:
        notes = hold.finger(notes, breathing=True)
    places = necks[0][1]
    rules = tuple(_rules(exercise, form.key, hold, places, given))
    once = tuple(time for time in rhythm.items() if time[0] < form.length_beats)
    task = Task(rules, (0, len(form.bars)), necks, once)
    return _in_turn(form, notes, exercise, player, task, _told(exercise, form.key, hold, places))


def aims(timeline: Timeline, exercise: Aims, player: Player) -> StudyPlan:
    """A chart of targets: the demonstration reaches them, then the class does. Raises LineError."""
    form = first_chorus(timeline)
    shown = over_and_over(form, max(1, exercise.demonstrations), form.tempo)
    part = target_line(shown, exercise, player)
    told = {
        span.onset_beats: aim_text(span.chord, exercise.target)
        for span in form.chords
        if span.chord is not None
    }
    beat = "" if exercise.beat == 1 else f", on beat {exercise.beat} of the chord"
    word = "third or seventh" if exercise.target == "guide" else exercise.target
    rules = (f"Reach the {word} of each chord as it comes{beat}. How you get there is up to you.",)
    task = Task(rules, (0, len(form.bars)), aims=tuple(told.items()))
    plan = _in_turn(form, part.notes, exercise, player, task, "")
    cues = []
    for cue in plan.cues:
        for span in plan.timeline.merged_chords:
            if cue.onset_beats <= span.onset_beats < cue.end_beats and span.chord is not None:
                text = f"{cue.text}: {span.chord}, {aim_text(span.chord, exercise.target)}"
                end = min(span.end_beats, cue.end_beats)
                cues.append(CueSpan(span.onset_beats, end - span.onset_beats, text, cue.kind))
    return replace(plan, cues=tuple(cues))


def aim_text(chord: Chord, target: str) -> str:
    """The tones to aim at over a chord: ``B (3)``, with two of them ``B (3) F (b7)``."""
    degrees = chord.guide_tones if target == "guide" else (target_degree(chord, target),)
    return " ".join(f"{chord.root.degree(degree)} ({degree})" for degree in degrees)


def first_chorus(timeline: Timeline) -> Timeline:
    """The form once, from its bar 1, without what comes before it."""
    bars = [bar for bar in timeline.bars if bar.chorus == 1 and bar.form_number >= 1]
    start, end = bars[0].onset_beats, bars[-1].end_beats

    def kept(onset: Fraction) -> bool:
        return start <= onset < end

    return Timeline(
        timeline.key,
        timeline.tempo,
        tuple(_earlier(bar, start, number) for number, bar in enumerate(bars, start=1)),
        tuple(
            replace(s, onset_beats=s.onset_beats - start) for s in timeline.chords if kept(s.onset_beats)
        ),
        tuple(
            replace(s, onset_beats=s.onset_beats - start)
            for s in timeline.sections
            if kept(s.onset_beats)
        ),
        tuple(
            replace(s, onset_beats=s.onset_beats - start)
            for s in timeline.repeats
            if kept(s.onset_beats)
        ),
    )


def _earlier(bar: Bar, beats: Fraction, number: int) -> Bar:
    return replace(bar, onset_beats=bar.onset_beats - beats, number=number)


_Given = Mapping[tuple[Meter, ...], PhraseRhythm]
"""The rhythm that is given for a phrase over bars in these meters."""


def _given(form: Timeline, exercise: Improvise, player: Player) -> _Given:
    """The rhythm that is given, and its last bar for what is left over at the end of a section; in each
    meter another one, and over bars in two meters a bar of each."""
    seed = f"{player.seed}/{player.title}/given/{exercise.level}"
    meters = {bar.meter: None for bar in form.bars}
    found: dict[tuple[Meter, ...], PhraseRhythm] = {}
    for meter in meters:
        rng = Random(seed if meter == form.meter else f"{seed}/{meter}")
        style = Style.draw(player.family, meter, exercise.level, rng)
        drawn = draw_rhythm(style, GIVEN_BARS, rng, ending="open")
        found[meter, meter] = drawn
        found[meter,] = PhraseRhythm(drawn.words[-1:], (None,), meter)
    for first, last in permutations(meters, 2):
        words = found[first, first].words[0], found[last, last].words[1]
        found[first, last] = PhraseRhythm(words, (None, None), first, (last,))
    return found


def _times(phrases: Sequence[Phrase]) -> dict[Fraction, Fraction]:
    """Length of each note of the phrases' rhythms by its onset."""
    found: dict[Fraction, Fraction] = {}
    for phrase in phrases:
        bar_line = phrase.start_beats
        for number, notes in enumerate(phrase.rhythm.bars):
            found |= {bar_line + onset: length for onset, length in notes}
            bar_line += phrase.rhythm.meter_of(number).bar_beats
    return found


def _rules(
    exercise: Improvise, key: Key, hold: Hold, places: Sequence[Place], given: _Given
) -> Iterator[str]:
    """What is to be kept to, in sentences."""
    if exercise.tones is not None or exercise.notes in COUNTS:
        yield f"Play these notes alone: {_names(places)}."
    elif exercise.notes == "chord tones":
        yield "Play chord tones alone."
    else:
        yield f"Play the scale of {key}, and come to rest on chord tones."
    if exercise.strings is not None:
        yield f"Stay on {_strings(exercise.strings)}."
    if hold.position is not None:
        yield f"The first finger stays near fret {hold.position}."
    if given:
        yield "The rhythm is given; the notes are up to you."
    else:
        yield "The rhythm is up to you: leave rests."


def _told(exercise: Improvise, key: Key, hold: Hold, places: Sequence[Place]) -> str:
    """The same in a few words, for captions."""
    if exercise.tones is not None or exercise.notes in COUNTS:
        told = _names(places)
    else:
        told = "chord tones" if exercise.notes == "chord tones" else f"{key} scale"
    if exercise.strings is not None:
        told += (
            f", string{'s' if len(exercise.strings) > 1 else ''} {' '.join(map(str, exercise.strings))}"
        )
    return told + (", the given rhythm" if exercise.rhythm == "given" else "")


def _strings(strings: Sequence[int]) -> str:
    return f"string{'s' if len(strings) > 1 else ''} {' '.join(map(str, strings))}"


def _names(places: Sequence[Place]) -> str:
    return " ".join(str(place.note) for place in places)


def _in_turn(
    form: Timeline, notes: Sequence[Note], exercise: InTurn, player: Player, task: Task, told: str
) -> StudyPlan:
    """The demonstration and the empty choruses, with what captions say over each."""
    shown = exercise.demonstrations
    track = over_and_over(form, shown + exercise.turns, form.tempo)
    kept = [note for note in notes if note.onset_beats < shown * form.length_beats]
    after = f": {told}" if told else ""
    cues = [
        CueSpan(
            number * form.length_beats,
            form.length_beats,
            f"Listen{after}" if number < shown else f"Turn {number - shown + 1}{after}",
            "listen" if number < shown else "play",
        )
        for number in range(shown + exercise.turns)
    ]
    return StudyPlan(track, (fretted_part(player, Role.LEAD, kept),), tuple(cues), task=task)
