"""Call and response: a phrase, then exactly as long a silence of the lead to play it back in.

The chart stands still for the student: every call keeps its bars for the response and for the
answer, so that what was heard fits what is played under it. The calls go through the form from
call to call. (``keep_form`` lets the form run on instead, for free answers.) Answered over the next
chord, call and silence have a chord each, and what is to be played is the call moved to it.

Every call can be sung (``sung.py``). A bar after the last silence tells the last answer: no caption
shows one while the student still plays.
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
from genex.lines.as_written import led_up_to, with_degrees
from genex.lines.ladders import chord_tones, degree_over
from genex.lines.moved_answer import answer_over
from genex.lines.phrase import Phrase, PhrasePlan, vocabulary_for, write_phrase
from genex.lines.phrase_places import chord_over
from genex.lines.placement import Hold, fretted_part, hold_over
from genex.lines.resolution import CHANGES_LEVEL
from genex.lines.rhythm import Style, even_rhythm, latest_ending
from genex.lines.strokes import with_strokes
from genex.lines.study_plan import (
    Answer,
    CueKind,
    CueSpan,
    PlannedBar,
    StudyPlan,
    bars_of,
    lay_out,
    moved,
)
from genex.lines.sung import can_be_sung
from genex.lines.targets import shorten_slide
from genex.lines.vocabulary import Kind, Vocabulary
from genex.said import Row, Said
from genex.score import Meter, Note, Part, Role, TempoMap, Timeline
from genex.theory import Chord, Key, Reading, chord_from_numeral

SIGNAL_PROGRAM = 11
ATTEMPTS = 60

_TWO_FIVE_ONE = {"major": ("ii7", "V7", "Imaj7"), "minor": ("iim7b5", "V7b9", "im7")}


Stage = Literal["announce", "listen", "play", "answer"]


@dataclass(frozen=True)
class _Turn:
    """A stretch of the track: bars from ``first_bar`` on (from 0), for one call.

    ``is_last``: the call is not given again, so that its answer may be told.
    """

    call: int
    stage: Stage
    first_bar: int
    bars: int
    is_last: bool = True


@dataclass(frozen=True)
class _Call:
    """A call, and what is to be played back, with the times of the call."""

    notes: tuple[Note, ...]
    reply: tuple[Note, ...]
    text: str


def call_and_response(
    timeline: Timeline,
    exercise: Calls,
    player: Player,
    *,
    two_five_one: bool = True,
    own: Sequence[Sequence[Note]] = (),
) -> StudyPlan:
    """The track over a form: chart, calls, captions and answer key.

    ``timeline`` is the form; of several choruses the first is taken. The part ``call`` holds the
    calls (and announcements and answers), ``signal`` the bell. Captions say listen and play and,
    after the silence, what it was. With ``two_five_one`` the first half of the calls of level 6
    goes through a ii-V-I in the key. ``own`` are calls that are not to be made, under the hand, each
    with times from its first bar line. Raises LineError for calls that do not fit the form.
    """
    form = [bar for bar, at in zip(bars_of(timeline), timeline.bars, strict=True) if at.chorus == 1]
    levels = [0] * len(own) if own else _levels(exercise)
    through = 0
    if two_five_one and not exercise.keep_form:
        through = (levels.count(CHANGES_LEVEL) + 1) // 2
    _require(exercise, form, levels, through)
    turns, bars = _chart(form, exercise, levels, timeline.key, through)
    tempo = TempoMap.constant(timeline.tempo.tempo_at(Fraction(0)))
    track = lay_out(bars, timeline.key, tempo)
    hold: Hold | None = None
    if own:
        calls = _written(track, turns, own)
    else:
        calls, hold = _calls(track, turns, levels, exercise, player)
    notes: list[Note] = []
    signals: list[Note] = []
    cues: list[CueSpan] = []
    tonic = timeline.key.tonic.at_or_above(84)
    for turn in turns:
        start = track.bars[turn.first_bar].onset_beats
        end = track.bars[turn.first_bar + turn.bars - 1].end_beats
        call = calls[turn.call]
        text, kind = _caption(turn, call, track, exercise)
        cues.append(CueSpan(start, end - start, text, kind))
        if turn.stage in ("listen", "answer"):
            moved_by = start - _first_given(track, turns, turn.call)
            given = moved(call.notes if turn.stage == "listen" else call.reply, moved_by)
            notes += led_up_to(notes, given) if own else given
        elif turn.stage == "announce":
            first = call.notes[0]
            length = (end - start) / 2
            plain = replace(first, slide=None, legato=None, bend=None, vibrato=False)
            notes.append(replace(plain, onset_beats=start, duration_beats=length))
        elif exercise.signal:
            signals.append(Note(start, Fraction(1), tonic, 60))
        if turn.stage == "play" and turn.is_last and not exercise.answer:
            after = track.bars[turn.first_bar + turn.bars]
            cues.append(CueSpan(after.onset_beats, after.length_beats, call.text, "answer"))
    shown = notes if hold is None else list(map(shorten_slide, hold.finger(notes, breathing=True)))
    lines, meters = zip(*((bar.onset_beats, bar.meter) for bar in track.bars), strict=True)
    shown = with_strokes(shown, exercise.strokes, lines, meters)
    parts = [fretted_part(player, Role.LEAD, shown, "call")]
    if signals:
        parts.append(Part.of("signal", Role.CUE, SIGNAL_PROGRAM, signals))
    answers = _answers(track, turns, calls, parts[0].notes, levels)
    ordered = tuple(sorted(cues, key=lambda cue: (cue.onset_beats, cue.kind != "answer")))
    return StudyPlan(track, tuple(parts), ordered, answers)


def describe(notes: Sequence[Note]) -> Said:
    """A phrase in words: its notes with their degrees, ``C4 (1) Eb4 (b3)``."""
    told = (
        note.pitch
        if note.degree is None
        else Said("{note} ({degree})", note=note.pitch, degree=note.degree)
        for note in notes
    )
    return Said("{notes}", notes=Row(told))


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
    if exercise.answer_over == "next chord" and len(set(chords)) < 2:
        raise LineError(
            "the answer goes to the next chord and the chart has one chord only",
            hint="write more chords, or drop answer_over",
        )
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
    harmonies = _harmonies(form) if exercise.answer_over == "next chord" else []
    at = 0
    through = 0
    for call, level in enumerate(levels):
        section = Said("call {number}", number=call + 1)
        while level and all(chord is None for chord, _ in form[at % len(form)].chords):
            at += 1  # a call that is made begins where a chord sounds
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
        reply = own
        if harmonies:
            own, reply = (
                [_bar_over(harmonies[(call + later) % len(harmonies)], bar.meter) for bar in own]
                for later in (0, 1)
            )
        at += exercise.bars
        for repeat in range(exercise.repeats):
            stages: list[Stage] = ["announce"] * (exercise.announce and repeat == 0)
            stages += ["listen", "play"]
            stages += ["answer"] * exercise.answer
            for stage in stages:
                under = own if stage == "listen" else own[:1] if stage == "announce" else reply
                if exercise.keep_form and stage == "play":
                    under = [form[(at + index) % len(form)] for index in range(exercise.bars)]
                    at += exercise.bars
                turns.append(_Turn(call, stage, len(bars), len(under), repeat == exercise.repeats - 1))
                bars += [replace(bar, section=section) for bar in under]
    if not exercise.answer:
        bars.append(replace(bars[0], section=bars[-1].section))  # the last answer is told here
    return turns, bars


def _harmonies(form: Sequence[PlannedBar]) -> list[tuple[Chord, Reading | None]]:
    """The chords of the form one after another, as they are read there; each other than the last."""
    found: list[tuple[Chord, Reading | None]] = []
    for bar in form:
        for index, (chord, _) in enumerate(bar.chords):
            if chord is not None and (not found or found[-1][0] != chord):
                found.append((chord, bar.reading_of(index, chord)))
    if len(found) > 1 and found[0][0] == found[-1][0]:
        found.pop()
    return found


def _bar_over(harmony: tuple[Chord, Reading | None], meter: Meter) -> PlannedBar:
    chord, reading = harmony
    bar = PlannedBar.of(meter, chord)
    return bar if reading is None else replace(bar, readings=(reading,))


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


def _calls(
    track: Timeline, turns: Sequence[_Turn], levels: Sequence[int], exercise: Calls, player: Player
) -> tuple[list[_Call], Hold]:
    """A call for each level, no two alike, written where the call is first given."""
    chords = [span.chord for span in track.merged_chords if span.chord is not None]
    hold = hold_over(chords, exercise, player)
    calls: list[_Call] = []
    known: list[Phrase] = []
    for number, level in enumerate(levels):
        turn = _first_listening(turns, number)
        over = track.bars[turn.first_bar + turn.bars].onset_beats  # the silence comes right after
        vocabulary = vocabulary_for(track, turn.first_bar, turn.bars, hold, level)
        for attempt in range(ATTEMPTS):
            rng = Random(f"{player.seed}/{player.title}/call/{number}/{attempt}")
            drawn = _drawn(track, turn, vocabulary, exercise, player, rng, over)
            if drawn is None or not can_be_sung(drawn[0]):
                continue
            strict = attempt < ATTEMPTS // 2 and exercise.only != "rhythm"
            if exercise.may_return or _is_new(drawn[0], known, strict=strict):
                break
        else:
            raise LineError(
                f"level {level} has not enough different phrases for {exercise.calls} calls",
                hint="take fewer calls, longer ones, or let calls come again",
            )
        known.append(drawn[0])
        calls.append(drawn[1])
    return calls, hold


def _written(track: Timeline, turns: Sequence[_Turn], own: Sequence[Sequence[Note]]) -> list[_Call]:
    """Calls that are written, where each is first given, with their degrees there."""
    calls = []
    for number, notes in enumerate(own):
        there = tuple(with_degrees(moved(notes, _first_given(track, turns, number)), track))
        calls.append(_Call(there, there, describe(there)))
    return calls


def _first_given(track: Timeline, turns: Sequence[_Turn], call: int) -> Fraction:
    """The bar line where a call is given for the first time."""
    return track.bars[_first_listening(turns, call).first_bar].onset_beats


def _first_listening(turns: Sequence[_Turn], call: int) -> _Turn:
    return next(turn for turn in turns if turn.call == call and turn.stage == "listen")


def _drawn(
    track: Timeline,
    turn: _Turn,
    vocabulary: Vocabulary,
    exercise: Calls,
    player: Player,
    rng: Random,
    over: Fraction,
) -> tuple[Phrase, _Call] | None:
    """A phrase and the call of it, its answer in the harmony at ``over``; None where it has none."""
    meter, level = track.bars[turn.first_bar].meter, vocabulary.level
    even = even_rhythm(meter, turn.bars, level) if exercise.only == "melody" else None
    plan = PhrasePlan(
        style=Style.draw(player.family, meter, level, rng), slides=exercise.slides, rhythm=even
    )
    phrase = write_phrase(track, turn.first_bar, turn.bars, vocabulary, rng, plan)
    if exercise.only == "rhythm":
        phrase = _on_one_note(phrase, track, vocabulary)
    text = describe(phrase.notes)
    if exercise.only == "rhythm":
        bars = " | ".join(" ".join(words) for words in phrase.rhythm.words)
        text = Said("{note}: {rhythm}", note=phrase.notes[0].pitch, rhythm=bars)
    if exercise.answer_over == "same chord":
        return phrase, _Call(phrase.notes, phrase.notes, text)
    chord = track.chord_at(phrase.notes[0].onset_beats).chord
    there = track.reading_at(over)
    assert chord is not None and there.chord is not None and there.scale is not None
    reply = answer_over(
        phrase.notes, phrase.kinds, (chord, there.chord), there.scale, level, vocabulary.allowed
    )
    if reply is None:
        return None
    told = Said("{call}; over {chord}: {reply}", call=text, chord=there.chord, reply=describe(reply))
    return phrase, _Call(phrase.notes, reply, told)


def _on_one_note(phrase: Phrase, track: Timeline, vocabulary: Vocabulary) -> Phrase:
    """The rhythm of a phrase on one pitch: a tone of as many of its chords as can be."""
    pulse = track.bar_at(phrase.notes[0].onset_beats).meter.pulse_beats
    chords = [chord_over(track, n.onset_beats, n.duration_beats, pulse) for n in phrase.notes]

    def strangers(note: Note) -> tuple[int, int]:
        foreign = sum(chord is None or not chord_tones(chord, (note.midi,)) for chord in chords)
        return foreign, abs(note.midi - vocabulary.centre)

    tones = [note for note, kind in zip(phrase.notes, phrase.kinds, strict=True) if kind is Kind.CHORD]
    pitch = min(tones, key=strangers).pitch
    notes = []
    for note, chord in zip(phrase.notes, chords, strict=True):
        own = None if chord is None else chord.degree_of(pitch.midi)
        if own is None and chord is not None:
            own = degree_over(chord.root, pitch.name)
        notes.append(replace(note, pitch=pitch, degree=own, slide=None))
    return replace(phrase, notes=tuple(notes), kinds=(Kind.CHORD,) * len(notes))


def _is_new(phrase: Phrase, others: Sequence[Phrase], *, strict: bool) -> bool:
    """Whether no phrase is like it; strictly, not even one of the same pitches in another rhythm."""
    if strict:
        pitches = [note.midi for note in phrase.notes]
        return all(pitches != [note.midi for note in other.notes] for other in others)
    return all(phrase.shape != other.shape for other in others)


def _caption(turn: _Turn, call: _Call, track: Timeline, exercise: Calls) -> tuple[str, CueKind]:
    if turn.stage == "announce":
        return Said("Starting note: {note}", note=call.notes[0].pitch.name), "announce"
    if turn.stage == "answer":
        # Where the call is given once more, only the ear may compare.
        return (call.text, "answer") if turn.is_last else (Said("Compare"), "answer")
    if turn.stage == "listen":
        return Said("Listen"), "listen"
    if exercise.answer_over == "next chord":
        over = track.chords_in(track.bars[turn.first_bar])[0].chord
        return Said("Play over {chord}", chord=over), "play"
    return Said("Play"), "play"


def _answers(
    track: Timeline,
    turns: Sequence[_Turn],
    calls: Sequence[_Call],
    notes: Sequence[Note],
    levels: Sequence[int],
) -> tuple[Answer, ...]:
    found = []
    for number, call in enumerate(calls):
        turn = next(turn for turn in turns if turn.call == number and turn.stage == "listen")
        start = track.bars[turn.first_bar].onset_beats
        end = track.bars[turn.first_bar + turn.bars - 1].end_beats
        own = tuple(note for note in notes if start <= note.onset_beats < end)
        found.append(Answer(number + 1, start, call.text, own, levels[number], end - start))
    return tuple(found)
