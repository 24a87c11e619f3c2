"""Call and response: a phrase, then exactly as long a silence of the lead to play it back in.

The chart stands still for the student: every call keeps its bars for the response and for the
answer, so that what was heard fits what is played under it. The calls go through the form from
call to call. (``keep_form`` lets the form run on instead, for free answers.)
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from random import Random
from typing import Literal

from genex.errors import LineError
from genex.exact import Fraction
from genex.exercises import Player
from genex.exercises.models.asking import Calls
from genex.lines.phrase import Phrase, PhrasePlan, vocabulary_for, write_phrase
from genex.lines.placement import Hold, fretted_part, hold_over
from genex.lines.resolution import CHANGES_LEVEL
from genex.lines.rhythm import Style, latest_ending
from genex.lines.study_plan import Answer, CueKind, CueSpan, PlannedBar, StudyPlan, bars_of, lay_out
from genex.lines.targets import shorten_slide
from genex.score import Note, Part, Role, TempoMap, Timeline
from genex.theory import Chord, Key, chord_from_numeral

SIGNAL_PROGRAM = 11
ATTEMPTS = 40

_TWO_FIVE_ONE = {"major": ("ii7", "V7", "Imaj7"), "minor": ("iim7b5", "V7b9", "im7")}


Stage = Literal["announce", "listen", "play", "answer"]


@dataclass(frozen=True)
class _Turn:
    """A stretch of the track: bars from ``first_bar`` on (from 0), for one call."""

    call: int
    stage: Stage
    first_bar: int
    bars: int


def call_and_response(
    timeline: Timeline, exercise: Calls, player: Player, *, two_five_one: bool = True
) -> StudyPlan:
    """The track over a form: chart, calls, captions and answer key.

    ``timeline`` is the form; of several choruses the first is taken. The part ``call`` holds the
    calls (and announcements and answers), ``signal`` the bell. Captions say listen and play and,
    after the silence, what it was. With ``two_five_one`` the first half of the calls of level 6
    goes through a ii-V-I in the key. Raises LineError for calls that do not fit the form.
    """
    form = [bar for bar, at in zip(bars_of(timeline), timeline.bars, strict=True) if at.chorus == 1]
    levels = _levels(exercise)
    through = 0
    if two_five_one and not exercise.keep_form:
        through = (levels.count(CHANGES_LEVEL) + 1) // 2
    _require(exercise, form, levels, through)
    turns, bars = _chart(form, exercise, levels, timeline.key, through)
    tempo = TempoMap.constant(timeline.tempo.tempo_at(Fraction(0)))
    track = lay_out(bars, timeline.key, tempo)
    phrases, hold = _phrases(track, turns, levels, exercise, player)
    notes: list[Note] = []
    signals: list[Note] = []
    cues: list[CueSpan] = []
    tonic = timeline.key.tonic.at_or_above(84)
    texts = [describe(phrase.notes) for phrase in phrases]
    for turn in turns:
        start = track.bars[turn.first_bar].onset_beats
        end = track.bars[turn.first_bar + turn.bars - 1].end_beats
        phrase = phrases[turn.call]
        text, kind = _caption(turn, phrase, texts)
        cues.append(CueSpan(start, end - start, text, kind))
        if turn.stage in ("listen", "answer"):
            moved_by = start - _bar_line(track, phrase)
            notes += [replace(n, onset_beats=n.onset_beats + moved_by) for n in phrase.notes]
        elif turn.stage == "announce":
            first = phrase.notes[0]
            length = (end - start) / 2
            notes.append(replace(first, onset_beats=start, duration_beats=length, slide=None))
        elif exercise.signal:
            signals.append(Note(start, Fraction(1), tonic, 60))
        if turn.stage == "play" and not exercise.answer:
            cues.append(_answer_after(track, turn, texts[turn.call]))
    shown = [shorten_slide(n) for n in hold.finger(notes, breathing=True)]
    parts = [fretted_part(player, Role.LEAD, shown, "call")]
    if signals:
        parts.append(Part.of("signal", Role.CUE, SIGNAL_PROGRAM, signals))
    answers = _answers(track, turns, texts, parts[0].notes, levels)
    ordered = tuple(sorted(cues, key=lambda cue: (cue.onset_beats, cue.kind != "answer")))
    return StudyPlan(track, tuple(parts), ordered, answers)


def describe(notes: Sequence[Note]) -> str:
    """A phrase in words: its notes with their degrees, ``C4 (1) Eb4 (b3)``."""
    return " ".join(f"{note.pitch} ({note.degree})" for note in notes)


def _levels(exercise: Calls) -> list[int]:
    """The level of each call, rising evenly from the first to the last."""
    last = exercise.level if exercise.to_level is None else exercise.to_level
    steps = max(1, exercise.calls - 1)
    return [
        exercise.level + round(Fraction((last - exercise.level) * call, steps))
        for call in range(exercise.calls)
    ]


def _require(
    exercise: Calls, form: Sequence[PlannedBar], levels: Sequence[int], two_five_ones: int
) -> None:
    """Raise LineError for calls that a form has no room or no material for."""
    if exercise.bars > len(form):
        raise LineError(
            f"a call of {exercise.bars} bars is longer than the form of {len(form)}",
            hint="take shorter calls, or write a longer chart",
        )
    if exercise.keep_form and (exercise.answer or exercise.announce or exercise.repeats > 1):
        raise LineError(
            "a form that runs on leaves no place for answers, announcements or repeats",
            hint="drop keep_form, or these",
        )
    chords = [chord for bar in form for chord, _ in bar.chords if chord is not None]
    if not chords:
        raise LineError("the chart has no chord to make calls over", hint="write a chord symbol")
    if levels.count(CHANGES_LEVEL) > two_five_ones:
        if len(set(chords)) < 2:
            raise LineError(
                "level 6 goes through changes and the chart has one chord only",
                hint="write more chords, or choose a level up to 5",
            )
        if not any(_changes(form, at, exercise.bars) for at in range(len(form))):
            where = "no bar of the chart has" if exercise.bars == 1 else f"no {exercise.bars} bars have"
            raise LineError(
                f"level 6 goes through changes and {where} two chords",
                hint="take longer calls, or choose a level up to 5",
            )


def _changes(form: Sequence[PlannedBar], first: int, bars: int) -> bool:
    """Whether a call in bars of the form, which begins again at its end, goes through a change.

    The call begins where a chord sounds and comes to rest over the new chord or later.
    """
    own = [form[(first + index) % len(form)] for index in range(bars)]
    if all(chord is None for chord, _ in own[0].chords):
        return False
    end = sum((bar.meter.bar_beats for bar in own[:-1]), Fraction(0))
    end += latest_ending(own[-1].meter, alone=bars == 1)
    at = Fraction(0)
    before: Chord | None = None
    for bar in own:
        for chord, length in bar.chords:
            if before is not None and chord is not None and chord != before and at <= end:
                return True
            before = chord
            at += length
    return False


def _chart(
    form: Sequence[PlannedBar], exercise: Calls, levels: Sequence[int], key: Key, two_five_ones: int
) -> tuple[list[_Turn], list[PlannedBar]]:
    """What happens when, and the bars under it."""
    turns: list[_Turn] = []
    bars: list[PlannedBar] = []
    at = 0
    through = 0
    for call, level in enumerate(levels):
        section = f"call {call + 1}"
        while all(chord is None for chord, _ in form[at % len(form)].chords):
            at += 1  # a call begins where a chord sounds
        in_two_five_one = False
        if level == CHANGES_LEVEL and not exercise.keep_form:
            in_two_five_one = through < two_five_ones
            through += 1
            while not in_two_five_one and not _changes(form, at % len(form), exercise.bars):
                at += 1  # a call through the changes begins where it meets one
        elif level == CHANGES_LEVEL and not _changes(form, at % len(form), exercise.bars):
            raise LineError(
                f"level 6 goes through changes and call {call + 1} comes to bars of one chord, as the "
                "form runs on",
                hint="take calls of another length, drop keep_form, or choose a level up to 5",
            )
        own = [form[(at + index) % len(form)] for index in range(exercise.bars)]
        if in_two_five_one:
            own = _two_five_one(own, key)
        own = [replace(bar, section=section) for bar in own]
        at += exercise.bars
        stages: list[Stage] = []
        for repeat in range(exercise.repeats):
            stages += ["announce"] * (exercise.announce and repeat == 0)
            stages += ["listen", "play"]
            stages += ["answer"] * exercise.answer
        for stage in stages:
            under = own
            if stage == "announce":
                under = own[:1]
            elif exercise.keep_form and stage == "play":
                under = [
                    replace(form[(at + index) % len(form)], section=section)
                    for index in range(exercise.bars)
                ]
                at += exercise.bars
            turns.append(_Turn(call, stage, len(bars), len(under)))
            bars += under
    return turns, bars


def _two_five_one(bars: Sequence[PlannedBar], key: Key) -> list[PlannedBar]:
    """The bars with a ii-V-I in the key: a bar each, ii and V sharing one where there are two."""
    two, five, one = (chord_from_numeral(text, key) for text in _TWO_FIVE_ONE[key.plain_mode])

    def bar(index: int, *chords: Chord) -> PlannedBar:
        meter = bars[index].meter
        pulses = len(meter.pulses)
        # In a call of one bar the five comes where the call comes to rest.
        first = meter.pulse_beats * (pulses // 2 if len(bars) == 1 else pulses - pulses // 2)
        if len(chords) == 1 or pulses < 2:
            return PlannedBar.of(meter, chords[0])
        return PlannedBar(meter, ((chords[0], first), (chords[1], meter.bar_beats - first)))

    if len(bars) == 1:
        return [bar(0, two, five)]
    if len(bars) == 2:
        return [bar(0, two, five), bar(1, one)]
    return [bar(0, two), bar(1, five), *(bar(index, one) for index in range(2, len(bars)))]


def _phrases(
    track: Timeline, turns: Sequence[_Turn], levels: Sequence[int], exercise: Calls, player: Player
) -> tuple[list[Phrase], Hold]:
    """One phrase a call, no two alike, written where the call is first given."""
    chords = [span.chord for span in track.merged_chords if span.chord is not None]
    hold = hold_over(chords, exercise, player)
    phrases: list[Phrase] = []
    for call, level in enumerate(levels):
        turn = next(turn for turn in turns if turn.call == call and turn.stage == "listen")
        vocabulary = vocabulary_for(track, turn.first_bar, turn.bars, hold, level)
        for attempt in range(ATTEMPTS):
            rng = Random(f"{player.seed}/call/{call}/{attempt}")
            phrase = write_phrase(
                track,
                turn.first_bar,
                turn.bars,
                vocabulary,
                rng,
                PhrasePlan(
                    style=Style.draw(player.family, track.bars[turn.first_bar].meter, level, rng),
                    slides=exercise.slides,
                ),
            )
            if exercise.may_return or _is_new(phrase, phrases, strict=attempt < ATTEMPTS // 2):
                break
        else:
            raise LineError(
                f"level {level} has not enough different phrases for {exercise.calls} calls",
                hint="take fewer calls, longer ones, or let calls come again",
            )
        phrases.append(phrase)
    return phrases, hold


def _is_new(phrase: Phrase, others: Sequence[Phrase], *, strict: bool) -> bool:
    """Whether no phrase is like it; strictly, not even one of the same pitches in another rhythm."""
    if strict:
        pitches = [note.midi for note in phrase.notes]
        return all(pitches != [note.midi for note in other.notes] for other in others)
    return all(phrase.shape != other.shape for other in others)


def _bar_line(track: Timeline, phrase: Phrase) -> Fraction:
    """Where the phrase's first bar begins."""
    return track.bar_at(phrase.notes[0].onset_beats).onset_beats


def _caption(turn: _Turn, phrase: Phrase, texts: Sequence[str]) -> tuple[str, CueKind]:
    if turn.stage == "announce":
        return f"Starting note: {phrase.notes[0].pitch.name}", "announce"
    if turn.stage == "answer":
        return texts[turn.call], "answer"
    return ("Listen", "listen") if turn.stage == "listen" else ("Play", "play")


def _answer_after(track: Timeline, turn: _Turn, text: str) -> CueSpan:
    """What it was: in the bar after the silence, at the end of the track in its last pulse."""
    after = turn.first_bar + turn.bars
    if after < len(track.bars):
        bar = track.bars[after]
        return CueSpan(bar.onset_beats, bar.length_beats, text, "answer")
    pulse = track.bars[-1].meter.pulse_beats
    return CueSpan(track.length_beats - pulse, pulse, text, "answer")


def _answers(
    track: Timeline,
    turns: Sequence[_Turn],
    texts: Sequence[str],
    notes: Sequence[Note],
    levels: Sequence[int],
) -> tuple[Answer, ...]:
    found = []
    for call, text in enumerate(texts):
        turn = next(turn for turn in turns if turn.call == call and turn.stage == "listen")
        start = track.bars[turn.first_bar].onset_beats
        end = track.bars[turn.first_bar + turn.bars - 1].end_beats
        own = tuple(note for note in notes if start <= note.onset_beats < end)
        found.append(Answer(call + 1, start, text, own, levels[call]))
    return tuple(found)
