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
from genex.said import Row, Said
from genex.score import Bar, Meter, Note, Role, Timeline
from genex.theory import Chord, Key

TONES: Mapping[str, Said] = {
    "root": Said("the root"),
    "third": Said("the third"),
    "fifth": Said("the fifth"),
    "seventh": Said("the seventh"),
    "ninth": Said("the ninth"),
    "guide": Said("the third or seventh"),
}
"""Targets as a rule names them."""
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
    if exercise.beat == 1:
        phrase = "Reach {tone} of each chord as it comes. How you get there is up to you."
    else:
        phrase = (
            "Reach {tone} of each chord as it comes, on beat {beat} of the chord. "
            "How you get there is up to you."
        )
    rules = (Said(phrase, tone=TONES[exercise.target], beat=exercise.beat),)
    task = Task(rules, (0, len(form.bars)), aims=tuple(told.items()))
    plan = _in_turn(form, part.notes, exercise, player, task, "")
    cues = []
    for cue in plan.cues:
        for span in plan.timeline.merged_chords:
            if cue.onset_beats <= span.onset_beats < cue.end_beats and span.chord is not None:
                aim = aim_text(span.chord, exercise.target)
                text = Said("{turn}: {chord}, {aim}", turn=cue.text, chord=span.chord, aim=aim)
                end = min(span.end_beats, cue.end_beats)
                cues.append(CueSpan(span.onset_beats, end - span.onset_beats, text, cue.kind))
    return replace(plan, cues=tuple(cues))


def aim_text(chord: Chord, target: str) -> Said:
    """The tones to aim at over a chord: ``B (3)``, with two of them ``B (3) F (b7)``."""
    degrees = chord.guide_tones if target == "guide" else (target_degree(chord, target),)
    tones = (
        Said("{note} ({degree})", note=chord.root.degree(degree), degree=degree) for degree in degrees
    )
    return Said("{notes}", notes=Row(tones))


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
        yield Said("Play these notes alone: {notes}.", notes=_names(places))
    elif exercise.notes == "chord tones":
        yield Said("Play chord tones alone.")
    else:
        yield Said("Play the scale of {key}, and come to rest on chord tones.", key=key)
    if exercise.strings is not None:
        phrase = (
            "Stay on string {strings}." if len(exercise.strings) == 1 else "Stay on strings {strings}."
        )
        yield Said(phrase, strings=Row(exercise.strings))
    if hold.position is not None:
        yield Said("The first finger stays near fret {fret}.", fret=hold.position)
    if given:
        yield Said("The rhythm is given; the notes are up to you.")
    else:
        yield Said("The rhythm is up to you: leave rests.")


def _told(exercise: Improvise, key: Key, hold: Hold, places: Sequence[Place]) -> Said:
    """The same in a few words, for captions."""
    if exercise.tones is not None or exercise.notes in COUNTS:
        told = Said("{notes}", notes=_names(places))
    elif exercise.notes == "chord tones":
        told = Said("chord tones")
    else:
        told = Said("{key} scale", key=key)
    if exercise.strings is not None:
        phrase = (
            "{notes}, string {strings}" if len(exercise.strings) == 1 else "{notes}, strings {strings}"
        )
        told = Said(phrase, notes=told, strings=Row(exercise.strings))
    return Said("{notes}, the given rhythm", notes=told) if exercise.rhythm == "given" else told


def _names(places: Sequence[Place]) -> Row:
    return Row(place.note for place in places)


def _in_turn(
    form: Timeline, notes: Sequence[Note], exercise: InTurn, player: Player, task: Task, told: str
) -> StudyPlan:
    """The demonstration and the empty choruses, with what captions say over each."""
    shown = exercise.demonstrations
    track = over_and_over(form, shown + exercise.turns, form.tempo)
    kept = [note for note in notes if note.onset_beats < shown * form.length_beats]
    cues = [
        CueSpan(
            number * form.length_beats,
            form.length_beats,
            _turn(number - shown + 1, told),
            "listen" if number < shown else "play",
        )
        for number in range(shown + exercise.turns)
    ]
    return StudyPlan(track, (fretted_part(player, Role.LEAD, kept),), tuple(cues), task=task)


def _turn(number: int, told: str) -> Said:
    """The caption of a chorus: of the demonstration up to number 0, then of a turn."""
    if number < 1:
        return Said("Listen: {notes}", notes=told) if told else Said("Listen")
    if told:
        return Said("Turn {number}: {notes}", number=number, notes=told)
    return Said("Turn {number}", number=number)
