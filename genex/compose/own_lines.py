"""Lines of the teacher's own: over the chart as they are, or moved from chord to chord."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import replace
from functools import partial
from itertools import accumulate, pairwise

from genex.errors import InputError, LineError
from genex.exact import Fraction
from genex.exercises import Player
from genex.exercises.models.asking import Calls
from genex.exercises.models.own_lines import Lick, Own, OwnLine, Typed
from genex.fretboard import Tuning, Wishes, places
from genex.lines.as_written import OPEN, Written, led_up_to, with_degrees
from genex.lines.connected import played_as_written
from genex.lines.moved_lick import moved_lick
from genex.lines.placement import chords_of, fretted_part, hold_over, off_open_strings
from genex.lines.strokes import with_strokes
from genex.lines.study_plan import CueSpan, PlannedBar, StudyPlan, lay_out, moved
from genex.readers.lines import TypedLine, read_own_line
from genex.readers.lines.sources import Around
from genex.score import Bar, Meter, Note, Part, Role, TempoMap, Timeline
from genex.theory import (
    Chord,
    Interval,
    Key,
    Scale,
    interval_between,
    key_cycle,
    parse_chord,
    transpose_chord,
)

ZERO = Fraction(0)
_OCTAVE = Interval(7, 12)


def line_over_the_chart(timeline: Timeline, exercise: OwnLine, player: Player) -> Part:
    """A typed line from the top of each chorus, as often as it fits in; a longer one goes on over the
    choruses that follow. A pickup stands in the bar before, at first that of the end. Raises
    InputError."""
    meters = [bar.meter for bar in timeline.bars if bar.form_number >= 1]
    line = typed_line(timeline, exercise, exercise.file, player, meters=meters)
    starts = _starts(timeline, line, exercise)
    once = under_the_hand(line, timeline, exercise, player)
    once = _stroked(once, line, exercise)
    turns: list[list[Note]] = []
    for start in starts:
        turn = moved(once, start)
        if turns:
            turn = led_up_to(turns[-1], turn)
            turns[-1] = _cut(turns[-1], turn)
        turns.append(turn)
    notes = [note for turn in turns for note in turn]
    written = _wrapped(notes, timeline.length_beats)
    part = fretted_part(player, Role.EXERCISE, with_degrees(written, timeline))
    return replace(part, pickup_notes=sum(note.onset_beats < 0 for note in notes))


def lick_over_chords(timeline: Timeline, exercise: Lick, player: Player) -> StudyPlan:
    """A typed lick over each chord of the chart in turn by degrees, or as it is in all twelve keys.

    Every chord lasts as long as the lick. Raises InputError.
    """
    line = typed_line(timeline, exercise, exercise.file, player)
    if line.pickup_beats:
        raise LineError(
            "a lick begins with its bar", hint="write rests before its first note, to a whole bar"
        )
    source = exercise.written_in or timeline.key
    chord = _typed_over(line, timeline, exercise, source)
    wishes = _wishes(timeline, exercise, player)
    meters = (*line.meters, *line.meters[-1:] * exercise.rest_bars)
    onsets = tuple(accumulate((meter.bar_beats for meter in meters), initial=ZERO))
    bars: list[PlannedBar] = []
    notes: list[Note] = []
    cues: list[CueSpan] = []
    for label, chords, ways in _turns(line, chord, timeline, exercise, source):
        played = _first_that_fits(ways, line, player.tuning, wishes)
        played = _stroked(played, line, exercise)
        for _ in range(exercise.times):
            start = len(cues) * onsets[-1]
            turn = moved(played, start)
            notes += led_up_to(notes, turn)
            cues.append(CueSpan(start, onsets[-1], label, "section"))
            bars += [
                PlannedBar(meter, _in_bar(chords, onset, meter.bar_beats), label)
                for onset, meter in zip(onsets, meters, strict=False)
            ]
    tempo = TempoMap.constant(timeline.tempo.tempo_at(ZERO))
    part = fretted_part(player, Role.EXERCISE, notes)
    return StudyPlan(lay_out(bars, timeline.key, tempo), (part,), tuple(cues))


def typed_line(
    timeline: Timeline,
    exercise: Typed,
    file: str | None,
    player: Player,
    *,
    meters: Sequence[Meter] = (),
    in_its_own_meter: bool = False,
) -> TypedLine:
    """The line that an exercise has, its octave as wished.

    Where the line says no meter, its bars have those of ``meters``, or that which the recipe begins in.
    Raises ChartFileError, MidiFileError, and LineError for a line that begins in another meter.
    """
    meters = meters or (timeline.meter,)
    key = exercise.written_in or timeline.key
    around = Around(meters, key, player.tuning, player.note_names)
    line = read_own_line(
        abc=exercise.abc,
        tab=exercise.tab,
        path=None if file is None else player.folder / file,
        number=exercise.number,
        around=around,
        locate=lambda field: partial(player.locate, field),
    )
    if line.meters[0] != meters[0] and not in_its_own_meter:
        raise LineError(
            f"the line is in {line.meters[0]} and the chart in {meters[0]}",
            hint=f"write 'meter: {line.meters[0]}' in the recipe, or the line in {meters[0]}",
        )
    if not exercise.octave:
        return line
    up = Interval(7 * exercise.octave, 12 * exercise.octave)
    lifted = tuple(
        replace(
            one, note=replace(one.note, pitch=one.note.pitch.transpose(up)), string=None, finger=None
        )
        for one in line.notes
    )
    return replace(line, notes=lifted)


def under_the_hand(
    line: TypedLine, timeline: Timeline, exercise: OwnLine | Calls, player: Player
) -> list[Note]:
    """The notes of a line in the timeline's key with their frettings, in the order of the line.

    Raises LineError.
    """
    wishes = _wishes(timeline, exercise, player)
    notes = in_key(line, exercise, timeline.key, player.tuning)
    return _fingered(notes, line, player.tuning, wishes)


# --- over the chart --------------------------------------------------------------------------------


def _starts(timeline: Timeline, line: TypedLine, exercise: Own) -> list[Fraction]:
    """Where the line begins, in beats. Raises LineError for one that is longer than the piece."""
    bars, step = timeline.bars, line.bars + exercise.rest_bars
    tops = [n for n, bar in enumerate(bars) if bar.form_number == 1]
    if line.bars > len(bars) - tops[0]:
        raise LineError(
            f"the line has {line.bars} bars, and {len(bars) - tops[0]} are played",
            hint="write more bars of chords, 'repeats', or a shorter line",
        )
    found: list[int] = []
    for top, end in zip(tops, [*tops[1:], len(bars)], strict=True):
        if found and found[-1] + step > top:
            continue  # a line that goes on over this chorus
        first = range(top, max(top + 1, end - line.bars + 1), step)
        found += [number for number in first if number + line.bars <= len(bars)]
    for number in found:
        _require_its_meters(line, bars[number:], begins_again=number > found[0])
    return [bars[number].onset_beats for number in found]


def _require_its_meters(line: TypedLine, bars: Sequence[Bar], *, begins_again: bool) -> None:
    """Raise LineError where a bar of the line is in another meter than the bar that it stands over."""
    for number, (meter, bar) in enumerate(zip(line.meters, bars, strict=False), start=1):
        if meter != bar.meter:
            said = f", where it begins again at bar {bars[0].number}" if begins_again else ""
            raise LineError(
                f"bar {number} of the line is in {meter}, and bar {bar.number} of the chart in "
                f"{bar.meter}{said}",
                hint="write the line in the meters of the chart, with [M:3/4] before a bar in 3/4, and "
                "as long as the form; or give a section in another meter an exercise of its own",
            )


def in_key(line: TypedLine, exercise: Typed, key: Key, tuning: Tuning) -> list[Note]:
    """The notes of a line in the key that is played, an octave off where they would leave the
    instrument. Raises LineError with the place of a note that is on it nowhere."""
    source = exercise.written_in
    interval = Interval(0, 0) if source is None else interval_between(source, key)
    others = (interval + -_OCTAVE, interval + _OCTAVE) if interval.semitones else ()
    for way in (interval, *others):
        notes = [_transposed(one.note, way) for one in line.notes]
        if all(places(tuning, note.midi) for note in notes):
            return notes
    low, high = min(tuning.open_midi), max(tuning.open_midi) + tuning.last_fret
    wrong = next(one for one in line.notes if not places(tuning, one.note.midi + interval.semitones))
    pitch = wrong.note.pitch.transpose(interval)
    raise LineError(
        f"{pitch} is not on this instrument",
        hint=f"its notes lie between {_named(low)} and {_named(high)}: "
        "write 'octave: -1' or 'octave: 1', or other notes",
        place=wrong.place,
    )


def _named(midi: int) -> str:
    return str(Key.parse("C").spell(midi))


def _transposed(note: Note, interval: Interval) -> Note:
    pitch = note.pitch.transpose(interval)
    if abs(pitch.name.alter) > 1 >= abs(note.pitch.name.alter):
        flats = pitch.name.alter < 0
        pitch = type(pitch).from_midi(pitch.midi, flats=flats)
    return replace(note, pitch=pitch)


def _wishes(timeline: Timeline, exercise: OwnLine | Lick | Calls, player: Player) -> Wishes:
    """Where the hand lies, as far as that is said."""
    if exercise.position is None and exercise.form is None:
        return off_open_strings(None, exercise.strings)
    hold = hold_over(chords_of(timeline, "place the line over"), exercise, player)
    return off_open_strings(hold.position, exercise.strings)


def _fingered(notes: Sequence[Note], line: TypedLine, tuning: Tuning, wishes: Wishes) -> list[Note]:
    """The notes under the hand, at the written places if the neck has these as far up or down."""
    exactly = [Written(one.string, one.finger) for one in line.notes]
    played = partial(_played, notes, line, tuning, wishes)
    shift = notes[0].midi - line.notes[0].note.midi
    if not shift:
        return played(exactly)
    if _stays_on_strings(line, shift, tuning):
        # With open strings the fingers are others; without, the hand only moves.
        opens = any(one.fret == 0 for one in line.notes)
        alike = [Written(wish.string, None if opens else wish.finger) for wish in exactly]
        with suppress(LineError):
            return played(alike)
    return played([OPEN] * len(notes))


def _played(
    notes: Sequence[Note],
    line: TypedLine,
    tuning: Tuning,
    wishes: Wishes,
    written: Sequence[Written],
    *,
    loosely: bool = False,
) -> list[Note]:
    """The notes at what is written of their places; ``loosely`` what connects them may be given up."""
    wanted = [one.legato for one in line.notes]
    if loosely:
        wanted = ["slur" if one else "" for one in wanted]
    at = [one.place for one in line.notes]
    return played_as_written(notes, written, wanted, line.length_beats, tuning, wishes, at)


def _stroked(notes: Sequence[Note], line: TypedLine, exercise: Own) -> list[Note]:
    """The notes with the strokes that the exercise's rule gives them."""
    return with_strokes(notes, exercise.strokes, line.bar_lines, line.meters)


def _stays_on_strings(line: TypedLine, shift: int, tuning: Tuning) -> bool:
    """Whether every note that has a written string is on the neck there when it is moved."""
    written = [one for one in line.notes if one.string is not None]
    frets = [one.note.midi + shift - tuning.open_midi[(one.string or 1) - 1] for one in written]
    return bool(written) and all(0 <= fret <= tuning.last_fret for fret in frets)


def _cut(before: Sequence[Note], turn: Sequence[Note]) -> list[Note]:
    """The turn before, its last notes cut where a pickup begins. Raises LineError where they begin
    later than that."""
    start = turn[0].onset_beats
    if any(note.onset_beats >= start for note in before):
        raise LineError(
            "the pickup has no room before the line begins again",
            hint="write rests, or one long note, in the last bar where the pickup stands",
        )
    return [_ending_by(note, start) for note in before]


def _ending_by(note: Note, end_beats: Fraction) -> Note:
    if note.written_end_beats <= end_beats:
        return note
    return note.cut_to(end_beats - note.onset_beats)


def _wrapped(notes: Sequence[Note], length_beats: Fraction) -> list[Note]:
    """The pickup of the first turn at the end of the piece, from where a loop leads into it."""
    pickup = [note for note in notes if note.onset_beats < 0]
    if not pickup:
        return list(notes)
    others = [note for note in notes if note.onset_beats >= 0]
    wrapped = moved(pickup, length_beats)
    return [*_cut(others, wrapped), *wrapped]


# --- over chords -----------------------------------------------------------------------------------

_Chords = tuple[tuple[Fraction, Chord | None], ...]


def _typed_over(line: TypedLine, timeline: Timeline, exercise: Lick, source: Key) -> Chord:
    """The chord that the lick is written over, in the key that it is written in."""
    if exercise.chord is not None:
        return transpose_chord(parse_chord(exercise.chord), timeline.key, source)
    if line.chords:
        try:
            return parse_chord(line.chords[0].text)
        except InputError as error:
            error.place = line.chords[0].place
            raise
    return transpose_chord(chords_of(timeline, "play the lick over")[0], timeline.key, source)


def _turns(
    line: TypedLine, chord: Chord, timeline: Timeline, exercise: Lick, source: Key
) -> Iterator[tuple[str, _Chords, list[list[Note]]]]:
    """What stands over the bars, the chords, and the notes in several octaves, the best first."""
    notes = [one.note for one in line.notes]
    if exercise.cycle is not None:
        typed = [(one.onset_beats, parse_chord(one.text)) for one in line.chords] or [(ZERO, chord)]
        for key in key_cycle(timeline.key, exercise.cycle):
            chords = tuple((at, transpose_chord(own, source, key)) for at, own in typed)
            way = interval_between(source, key)
            ways = [
                [_transposed(note, each) for note in notes]
                for each in sorted(
                    (way, way + _OCTAVE, way + -_OCTAVE), key=lambda one: abs(one.semitones)
                )
            ]
            yield str(chords[0][1]), chords, [_over(way, chords) for way in ways]
        return
    old = chord, _scale_of(chord, timeline, source)
    seen: Chord | None = None
    first = timeline.bars[0].chorus
    for span in timeline.merged_chords:
        if span.chord is None or span.chord == seen or timeline.bar_at(span.onset_beats).chorus != first:
            continue
        seen = span.chord
        new = span.chord, _scale_at(timeline, span.onset_beats)
        ways = [list(moved_lick(notes, old, new, octaves)) for octaves in (0, -1, 1)]
        yield str(span.chord), ((ZERO, span.chord),), ways


def _over(notes: Sequence[Note], chords: _Chords) -> list[Note]:
    found = []
    for note in notes:
        at = max((onset for onset, _ in chords if onset <= note.onset_beats), default=ZERO)
        chord = next((one for onset, one in chords if onset == at), None)
        degree = None if chord is None else chord.degree_of(note.midi)
        found.append(replace(note, degree=degree))
    return found


def _scale_of(chord: Chord, timeline: Timeline, source: Key) -> Scale:
    """The scale of the chord that a lick is written over: as the chart reads it, else the key."""
    there = transpose_chord(chord, source, timeline.key)
    for span in timeline.merged_chords:
        if span.chord is not None and span.chord.plain_symbol == there.plain_symbol:
            return _scale_at(timeline, span.onset_beats)
    alone = lay_out([PlannedBar.of(timeline.meter, there)], timeline.key, timeline.tempo)
    return _scale_at(alone, ZERO)


def _scale_at(timeline: Timeline, beats: Fraction) -> Scale:
    scale = timeline.reading_at(beats).scale
    assert scale is not None, "every chord is read in a scale"
    return scale


def _first_that_fits(
    ways: Sequence[Sequence[Note]], line: TypedLine, tuning: Tuning, wishes: Wishes
) -> list[Note]:
    refusal: LineError | None = None
    for notes in ways:
        if not all(places(tuning, note.midi) for note in notes):
            continue
        shifts = {note.midi - one.note.midi for note, one in zip(notes, line.notes, strict=True)}
        try:
            if len(shifts) == 1:
                return _fingered(notes, line, tuning, wishes)
            return _played(notes, line, tuning, wishes, [OPEN] * len(notes), loosely=True)
        except LineError as error:
            refusal = refusal or error
    raise refusal or LineError(
        "the lick leaves the instrument over one of the chords",
        hint="write it in a range that leaves an octave on either side",
    )


def _in_bar(
    chords: _Chords, start: Fraction, length: Fraction
) -> tuple[tuple[Chord | None, Fraction], ...]:
    """The chords of a bar with their lengths: that of before goes on over its bar line."""
    inside = {at - start: chord for at, chord in chords if start <= at < start + length}
    before = [chord for at, chord in chords if at <= start]
    inside.setdefault(ZERO, before[-1] if before else chords[0][1])
    edges = [*sorted(inside), length]
    return tuple((inside[a], b - a) for a, b in pairwise(edges))
