"""Between lines and the fretboard: which notes a position holds, and fingering a line's notes."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import partial
from itertools import groupby, pairwise
from typing import TYPE_CHECKING

from genex.errors import FretboardError, LineError
from genex.exact import Fraction
from genex.fretboard.fingering import Fingered, finger_line, position_slack, with_moves
from genex.fretboard.hand import HandMove
from genex.fretboard.shapes import chord_shape
from genex.fretboard.tunings import Tuning, places
from genex.fretboard.wishes import ANYHOW, Wishes
from genex.score import Fretting, Note, Part, Role, Timeline
from genex.theory import Chord, Pitch

if TYPE_CHECKING:
    from genex.exercises import Player
    from genex.exercises.families import Placed

LOWEST_CHOSEN_POSITION, HIGHEST_CHOSEN_POSITION = 2, 9
"""Positions that are chosen unasked: no open strings, so that what is learned can be moved, and
nothing over the body of an acoustic guitar."""
HOME_POSITION = 5
"""Of positions that suit a progression equally well, the one nearest to this is taken: here all
strings lie under the hand and the frets are neither wide nor narrow [common practice]."""


BREATH_BEATS = Fraction(1, 2)
"""A rest of an eighth or more gives the hand time to move at leisure."""

HIGHEST_FRET_ON_STRINGS = 15
"""Lines along chosen strings stay below the frets that the body of many guitars covers."""


@dataclass(frozen=True)
class Hold:
    """Where on the neck a line lies: in a position, on some strings, or both.

    allowed  MIDI numbers that the line may use, ascending
    hands    where a form was asked for, the lowest and the highest position that the hand takes in
             its shape: there it is at home, and moves as in the shape
    """

    tuning: Tuning
    allowed: tuple[int, ...]
    position: int | None
    strings: tuple[int, ...] | None
    hands: tuple[int, int] | None = None

    def finger(
        self,
        notes: Sequence[Note],
        *,
        fixed: Sequence[tuple[int, int] | None] | None = None,
        breathing: bool = False,
    ) -> list[Note]:
        """The notes with their frettings, off the open strings except in position 1 or where fixed.

        In a line that is ``breathing`` the hand moves in the rests and stays where it is while
        a phrase lasts, if the pitches let it.
        """
        is_open = any(place is not None and place[1] == 0 for place in fixed or ())
        wishes = replace(
            self._wishes,
            closed=self._wishes.closed and not is_open,
            breaths=breaths_of(notes) if breathing else frozenset(),
        )
        return fingered(notes, self.tuning, wishes, fixed=fixed)

    @property
    def _wishes(self) -> Wishes:
        strings = None if self.strings is None else frozenset(self.strings)
        return Wishes(self.position, self.hands, strings, closed=self.position != 1)

    def finger_runs(self, notes: Sequence[Note], runs: Sequence[int]) -> list[Note]:
        """The notes with their frettings, each run by itself and equal runs alike.

        ``runs`` gives the number of the run that each note belongs to. Within a run a pitch has
        one place, going up and coming down, if the hand can do that. Raises LineError.
        """
        known: dict[tuple[int, ...], tuple[Fingered, ...]] = {}
        states = []
        for _, group in groupby(zip(runs, notes, strict=True), key=lambda pair: pair[0]):
            midis = tuple(note.midi for _, note in group)
            if midis not in known:
                known[midis] = self._run(midis)
            states += [fingered.state for fingered in known[midis]]
        return with_frettings(notes, with_moves(states))

    def _run(self, midis: tuple[int, ...]) -> tuple[Fingered, ...]:
        finger = partial(finger_line, midis, self.tuning, self._wishes)
        try:
            line = finger()
        except FretboardError as error:
            raise LineError(error.message, hint=error.hint) from error
        homes: dict[int, tuple[int, int]] = {}
        fixed = [homes.setdefault(m, note.place) for m, note in zip(midis, line, strict=True)]
        with suppress(FretboardError):
            return finger(fixed=fixed)
        return line

    def under_hand(self, chords: Collection[Chord]) -> tuple[int, ...]:
        """The allowed notes that the hand holds without a shift where it suits some chords best.

        In a position the hand may lie a fret lower or higher for a while; along strings it may
        lie anywhere below the body, where it finds three tones of each chord. The place with the
        fewest tones missing between its lowest and highest note is taken, then the nearest to
        the position, then the lower one. Empty if there is no such place.
        """
        if self.position is None:
            home, around = HOME_POSITION, range(1, HIGHEST_FRET_ON_STRINGS - 2)
        else:
            home = self.position
            slack = position_slack(self.tuning)
            around = range(max(1, home - slack), home + slack + 1)
        classes = [chord.pitch_classes for chord in chords]
        found = []
        for place in around:
            held = self._held(place)
            missing = 0
            for tones in classes:
                own = [midi for midi in held if midi % 12 in tones]
                if len(own) < 3:
                    break
                missing += sum(
                    midi % 12 in tones and held[0] < midi < held[-1] and midi not in held
                    for midi in self.allowed
                )
            else:
                found.append((missing, abs(place - home), place, held))
        return min(found)[3] if found else ()

    def require_every(self, classes: Collection[int], of: str) -> None:
        """Raise LineError where a tone between the lowest and the highest allowed note is lacking.

        ``classes`` are the pitch classes of the tones ``of`` a chord or scale. Only chosen strings
        that do not lie side by side can lack one.
        """
        allowed = frozenset(self.allowed)
        for midi in range(self.allowed[0], self.allowed[-1]):
            if midi % 12 in classes and midi not in allowed:
                where = ", ".join(f"string {p.string} fret {p.fret}" for p in places(self.tuning, midi))
                raise LineError(
                    f"{Pitch.from_midi(midi)} of {of} cannot be had on {self}",
                    hint=f"it lies at {where}: choose strings that lie side by side, or leave them out",
                )

    def _held(self, place: int) -> tuple[int, ...]:
        """The allowed notes under the four fingers at a place on the neck."""
        strings = self.strings or range(1, len(self.tuning.strings) + 1)
        frets = range(0 if place == 1 == self.position else place, place + 4)
        opens = (self.tuning.open_midi[string - 1] for string in strings)
        there = {midi + fret for midi in opens for fret in frets if fret <= self.tuning.last_fret}
        return tuple(midi for midi in self.allowed if midi in there)

    def __str__(self) -> str:
        parts = [] if self.position is None else [f"position {self.position}"]
        if self.strings is not None:
            plural = "s" if len(self.strings) > 1 else ""
            parts.append(f"string{plural} {' '.join(map(str, self.strings))}")
        return ", ".join(parts)


def hold_for(
    chords: Sequence[Chord],
    tuning: Tuning,
    *,
    position: int | None = None,
    form: str | None = None,
    strings: Collection[int] | None = None,
    low: int | None = None,
    high: int | None = None,
) -> Hold:
    """The hold that was asked for; without position, form or strings the position that suits best.

    ``low`` and ``high`` are limits as MIDI numbers. Raises LineError for a place that is not on
    the neck or has no note in the limits.
    """
    if strings is not None:
        strings = tuple(sorted(set(strings)))
        count = len(tuning.strings)
        if not strings or not 1 <= strings[0] <= strings[-1] <= count:
            raise LineError(
                f"there is no set of strings '{' '.join(map(str, strings))}' in {tuning}",
                hint=f"strings run from 1, the highest, to {count}",
            )
    if position is not None:
        form = None
    if strings is None or position is not None or form is not None:
        position = position_for(chords, tuning, position, form)
    reach = in_position(tuning, position)
    if strings is not None:
        frets = (1, min(HIGHEST_FRET_ON_STRINGS, tuning.last_fret))
        if position is not None:
            slack = position_slack(tuning)
            lowest = 0 if position == 1 else max(1, position - slack)
            frets = (lowest, min(position + 3 + slack, tuning.last_fret))
        opens = [tuning.open_midi[string - 1] for string in strings]
        there = {midi + fret for midi in opens for fret in range(frets[0], frets[1] + 1)}
        reach = tuple(midi for midi in reach if midi in there)
    allowed = tuple(
        midi for midi in reach if (low is None or midi >= low) and (high is None or midi <= high)
    )
    hands = None
    if form is not None and position is not None:
        hands = _hands_of_form(chords[0], form, tuning, position)
    hold = Hold(tuning, allowed, position, strings, hands)
    if not allowed:
        raise LineError(
            f"the range {low} to {high} has no note in {hold}",
            hint=f"it holds MIDI notes {reach[0]} to {reach[-1]}" if reach else "choose another place",
        )
    return hold


def chords_of(timeline: Timeline, purpose: str) -> list[Chord]:
    """Every chord of a timeline in order. Raises LineError where there is none to ``purpose``."""
    chords = [span.chord for span in timeline.merged_chords if span.chord is not None]
    if not chords:
        raise LineError(f"the chart has no chord to {purpose}", hint="write a chord symbol")
    return chords


def hold_over(chords: Sequence[Chord], exercise: Placed, player: Player) -> Hold:
    """The place on the neck that an exercise asks for, or that suits the chords."""
    return hold_for(
        chords,
        player.tuning,
        position=exercise.position,
        form=exercise.form,
        strings=exercise.strings,
        low=player.low,
        high=player.high,
    )


def fretted_part(player: Player, role: Role, notes: Iterable[Note], name: str | None = None) -> Part:
    """The part that a player plays on the guitar; of the player's own name unless another is given."""
    neck = player.tuning
    return Part.of(
        name or player.name, role, player.program, notes, strings=neck.strings, capo=neck.capo
    )


def in_position(tuning: Tuning, position: int | None) -> tuple[int, ...]:
    """MIDI numbers that the hand reaches in a position, ascending; the whole neck for None.

    The limits are the lowest and the highest note under the four fingers; a note between them
    that no finger covers counts if a short shift takes it: a fret below the first or above the
    fourth in tunings by fourths, further away (``position_slack``) where strings lie wider
    apart, so that no semitone is missing. Position 1 includes the open strings. Raises
    LineError for a position off the neck.
    """
    if position is None:
        sounding = {midi + fret for midi in tuning.open_midi for fret in range(tuning.last_fret + 1)}
        return tuple(sorted(sounding))
    if not 1 <= position <= tuning.last_fret:
        raise LineError(
            f"there is no position {position} on this neck",
            hint=f"a position is the fret of the first finger, 1 to {tuning.last_fret}",
        )
    under_hand = _between(tuning, 0 if position == 1 else position, position + 3)
    slack = position_slack(tuning)
    reach = _between(tuning, 0 if position == 1 else max(1, position - slack), position + 3 + slack)
    return tuple(midi for midi in sorted(reach) if min(under_hand) <= midi <= max(under_hand))


def _between(tuning: Tuning, low: int, high: int) -> frozenset[int]:
    """MIDI numbers between two frets."""
    frets = range(low, min(high, tuning.last_fret) + 1)
    return frozenset(midi + fret for midi in tuning.open_midi for fret in frets)


def position_for(chords: Sequence[Chord], tuning: Tuning, position: int | None, form: str | None) -> int:
    """The position asked for, or that of a form of the first chord, or the one that suits best."""
    if position is not None:
        return position
    if form is not None:
        return position_of_form(chords[0], form, tuning)
    return choose_position(chords, tuning)


def choose_position(chords: Iterable[Chord], tuning: Tuning) -> int:
    """The position in which the fewest tones of the chords need a shift.

    Every occurrence of a chord counts. Ties go to the position nearest to the fifth, then the
    lower one.
    """
    classes = [chord.pitch_classes for chord in chords]

    def trouble(position: int) -> tuple[int, int, int]:
        under_hand = _between(tuning, 0 if position == 1 else position, position + 3)
        shifted = [midi for midi in in_position(tuning, position) if midi not in under_hand]
        count = sum(midi % 12 in tones for tones in classes for midi in shifted)
        return count, abs(position - HOME_POSITION), position

    return min(chosen_positions(tuning), key=trouble)


def _hands_of_form(chord: Chord, form: str, tuning: Tuning, position: int) -> tuple[int, int]:
    """The lowest and the highest position of the hand in a form, and what lies beside its own."""
    found = [step.note.position for step in chord_shape(chord, tuning, form).path]
    slack = position_slack(tuning)
    return min(*found, max(1, position - slack)), max(*found, position + slack)


def position_of_form(chord: Chord, form: str, tuning: Tuning) -> int:
    """The position in which a form of a chord lies. Raises LineError naming the forms there are."""
    try:
        return chord_shape(chord, tuning, form).position
    except FretboardError as error:
        raise LineError(error.message, hint=error.hint) from error


def chosen_positions(tuning: Tuning) -> range:
    """The positions that are tried where none is asked for."""
    last = max(1, min(HIGHEST_CHOSEN_POSITION, tuning.last_fret - 3))
    return range(min(LOWEST_CHOSEN_POSITION, last), last + 1)


def off_open_strings(position: int | None, strings: Collection[int] | None = None) -> Wishes:
    """The wish for a place on the neck, without open strings in positions above the first: so what
    is learned can be moved."""
    closed = position is not None and position > 1
    return Wishes(position, strings=None if strings is None else frozenset(strings), closed=closed)


def _farthest(line: Sequence[Fingered]) -> int:
    """Frets of the widest shift."""
    return max((abs(b.position - a.position) for a, b in pairwise(line)), default=0)


def _unrest(line: Sequence[Fingered], rests: frozenset[int]) -> frozenset[int]:
    """Indices of the notes that the hand shifts to within a phrase."""
    return frozenset(
        index
        for index, (a, b) in enumerate(pairwise(line), start=1)
        if index not in rests and a.position != b.position
    )


LEAST_REPEATED = 6
"""Notes that have to come again, in the same rhythm, for a passage to be known again."""
LEAST_BACK = 3
"""Notes that have to come back in reverse, for a passage to be one there and back."""
MOST_TRIED = 16
"""Ways back that are tried one by one, where not all of a line can be as the ways there."""


def fingered(
    notes: Sequence[Note],
    tuning: Tuning,
    wishes: Wishes = ANYHOW,
    *,
    fixed: Sequence[tuple[int, int] | None] | None = None,
) -> list[Note]:
    """The notes with their frettings, some of them at a ``fixed`` string and fret.

    A passage that comes again is fingered as it was the first time, and one that turns back the way
    it came as on the way there, unless that makes the hand shift where it need not. Raises LineError
    where the line cannot be played so.
    """
    wishes = replace(wishes, slides=slides_of(notes))
    finger = partial(finger_line, [note.midi for note in notes], tuning, wishes, fixed=fixed)
    try:
        line = finger()
    except FretboardError as error:
        raise LineError(error.message, hint=error.hint) from error
    again = _passages_again(notes, fixed)
    back = _ways_back(notes, fixed, again)

    def played(known: Mapping[int, int]) -> tuple[Fingered, ...] | None:
        """The line with what comes again as it was the first time, if that adds no shift or leap."""
        if not known:
            return None
        with suppress(FretboardError):
            settled = {**{first: first for first in known.values()}, **known}
            alike = finger(held=[line[settled[i]] if i in settled else None for i in range(len(line))])
            shifts = [_unrest(each, wishes.breaths) for each in (alike, line)]
            if len(shifts[0]) <= len(shifts[1]) and _farthest(alike) <= _farthest(line):
                return alike
        return None

    known = again | {index: first for way in back for index, first in way.items()}
    alike = played(known)
    if alike is None and back:
        # Not all at once: those that can be, one after the other, or the way there as the way back.
        known, alike = ({}, None) if played(again) is None else (dict(again), played(again))
        for way in back[:MOST_TRIED]:
            there = {first: index for index, first in way.items() if first not in known}
            for one in (way, there):
                if (further := played(known | one)) is not None:
                    known, alike = known | one, further
                    break
    return with_frettings(notes, alike or line)


def _ways_back(
    notes: Sequence[Note],
    fixed: Sequence[tuple[int, int] | None] | None,
    again: Mapping[int, int],
) -> list[dict[int, int]]:
    """The ways back of a line: for each note of one its index on the way there.

    A way back has at least ``LEAST_BACK`` notes besides the one where the line turns. What comes
    again keeps its first time; a way back from it is that of the first time.
    """
    known = dict(again)
    found = []
    for turn in range(LEAST_BACK, len(notes) - LEAST_BACK):
        back = 1
        while turn >= back and turn + back < len(notes):
            there, here = turn - back, turn + back
            if notes[there].midi != notes[here].midi or here in known:
                break
            if fixed is not None and fixed[there] != fixed[here]:
                break
            back += 1
        if back > LEAST_BACK:
            way = {turn + step: known.get(turn - step, turn - step) for step in range(1, back)}
            found.append(way)
            known |= way
    return found


def _passages_again(
    notes: Sequence[Note], fixed: Sequence[tuple[int, int] | None] | None
) -> dict[int, int]:
    """For each note of a passage that comes again its index at the first time.

    A passage comes again where at least ``LEAST_REPEATED`` notes have the same pitches in the
    same rhythm; what is learned once is played alike again.
    """
    again: dict[int, int] = {}
    seen: dict[object, int] = {}

    def is_again(index: int, first: int, offset: int) -> bool:
        a, b = notes[index + offset], notes[first + offset]
        return (
            (a.midi, a.duration_beats, a.slide) == (b.midi, b.duration_beats, b.slide)
            and a.onset_beats - notes[index].onset_beats == b.onset_beats - notes[first].onset_beats
            and (fixed is None or fixed[index + offset] == fixed[first + offset])
        )

    index = 0
    while index + LEAST_REPEATED <= len(notes):
        passage = notes[index : index + LEAST_REPEATED]
        start = passage[0].onset_beats
        key = tuple((note.midi, note.onset_beats - start) for note in passage)
        first = seen.setdefault(key, index)
        room = min(index - first, len(notes) - index)
        length = next((o for o in range(room) if not is_again(index, first, o)), room)
        if length < LEAST_REPEATED:
            index += 1
            continue
        for offset in range(length):
            again[index + offset] = again.get(first + offset, first + offset)
        index += length
    return again


def with_frettings(notes: Sequence[Note], line: Sequence[Fingered]) -> list[Note]:
    """The notes with what the fretboard says of them; a finger let go in a rest does not roll."""
    fretted = [replace(note, fretting=fretting(f)) for note, f in zip(notes, line, strict=True)]
    return [_without_roll_over_rest(*pair) for pair in zip([None, *fretted], fretted, strict=False)]


def breaths_of(notes: Sequence[Note]) -> frozenset[int]:
    """Indices of the notes with a rest before them that gives the hand time to move."""
    return frozenset(
        index
        for index, (before, note) in enumerate(pairwise(notes), start=1)
        if note.onset_beats - before.written_end_beats >= BREATH_BEATS
    )


def slides_of(notes: Sequence[Note]) -> frozenset[int]:
    """Indices of the notes that are slid into."""
    return frozenset(index for index, note in enumerate(notes) if note.slide is not None)


def _without_roll_over_rest(before: Note | None, note: Note) -> Note:
    """The note, its roll forgotten where a rest lets the finger go."""
    if before is None or note.fretting is None or note.fretting.move is not HandMove.ROLL:
        return note
    if before.written_end_beats >= note.onset_beats:
        return note
    return replace(note, fretting=replace(note.fretting, move=HandMove.NONE))


def fretting(note: Fingered) -> Fretting:
    """The fretboard's answer as the Score holds it."""
    return Fretting(note.string, note.fret, note.finger, note.move)
