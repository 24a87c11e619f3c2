"""A line that somebody wrote, under the hand: strings and fingers that are written are kept.

Notes struck together are held together (``fretboard/held.py``); between them the hand goes as in any
line. Where no hand could take what is written, it is printed all the same: who wrote it plays it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import partial
from itertools import groupby, pairwise

from genex.errors import FretboardError, InputError, LineError
from genex.fretboard import HandMove, Tuning, Wishes, places
from genex.fretboard.fingering import finger_among
from genex.fretboard.held import HeldChord, held_chord
from genex.lines.ladders import degree_over
from genex.lines.placement import breaths_of, fingered, slides_of, with_frettings
from genex.lines.search import cheapest_path
from genex.score import Fretting, Note, Timeline

_OPEN_FRETS, _OPEN_AND_HIGH = 4, 300
"""An open string sounds together with notes up to this fret, or at a price."""
_TRAVEL, _AWAY, _HIGH = 12, 20, 2
"""Costs of a fret between two strokes, of a fret away from the wished position, and of a fret up."""


@dataclass(frozen=True, slots=True)
class Written:
    """What is written for a note: its string and its finger, None for what is left open."""

    string: int | None = None
    finger: int | None = None


OPEN = Written()


def fingered_as_written(
    notes: Sequence[Note], written: Sequence[Written], tuning: Tuning, wishes: Wishes
) -> list[Note]:
    """The notes with their frettings. Raises LineError for a note off the instrument, notes that no
    hand holds together, or a place that cannot be had.

    ``notes`` are in order of onset and pitch; notes of one onset are struck together.
    """
    for note, wish in zip(notes, written, strict=True):
        _require_on_string(note, wish, tuning)
    opens = any(
        wish.finger == 0 or (wish.string and note.midi == tuning.open_midi[wish.string - 1])
        for note, wish in zip(notes, written, strict=True)
    )
    wishes = replace(wishes, closed=wishes.closed and not opens, breaths=frozenset())
    for before, after in pairwise(notes):
        if (before.onset_beats, before.midi) == (after.onset_beats, after.midi):
            raise LineError(
                f"{after.pitch} is struck twice at a time", hint="a pitch sounds once in a chord"
            )
    pairs = [list(group) for _, group in groupby(zip(notes, written, strict=True), key=_onset)]
    if all(len(group) == 1 for group in pairs):
        return _single(notes, written, tuning, wishes)
    return _strokes(pairs, tuning, wishes)


def _onset(pair: tuple[Note, Written]) -> object:
    return pair[0].onset_beats


def _require_on_string(note: Note, wish: Written, tuning: Tuning) -> None:
    found = places(tuning, note.midi)
    if wish.string is None:
        return
    if not any(place.string == wish.string for place in found):
        where = ", ".join(f"string {place.string} fret {place.fret}" for place in found)
        raise LineError(
            f"{note.pitch} does not lie on string {wish.string}",
            hint=f"it lies at {where}" if where else "it is not on this neck",
        )


def _single(
    notes: Sequence[Note], written: Sequence[Written], tuning: Tuning, wishes: Wishes
) -> list[Note]:
    """A line of single notes."""
    if all(wish == OPEN for wish in written):
        return fingered(notes, tuning, wishes)
    fixed = [_place(note, wish, tuning) for note, wish in zip(notes, written, strict=True)]
    is_free = wishes.position is None and wishes.strings is None and not wishes.closed
    if is_free and all(wish.finger is None for wish in written):
        with_places: Callable[[], list[Note]] = partial(fingered, notes, tuning, wishes, fixed=fixed)
        try:
            return with_places()
        except LineError:
            if None in fixed:
                raise
            return _printed(notes, written, tuning)
    full = replace(wishes, breaths=breaths_of(notes), slides=slides_of(notes))
    finger = partial(
        finger_among,
        [note.midi for note in notes],
        [None if place is None else (place,) for place in fixed],
        tuning,
    )
    held = [None if wish.finger is None else (wish.finger, None) for wish in written]
    anywhere = replace(full, position=None, strings=None, closed=False)
    refusal: FretboardError | None = None
    for where, hands in ((full, held), (anywhere, held), (anywhere, None)):
        try:
            line = finger(where, held=hands)
        except FretboardError as error:
            refusal = refusal or error
            continue
        return _with_fingers(with_frettings(notes, line), written)
    if None in fixed:
        assert refusal is not None
        raise LineError(refusal.message, hint=refusal.hint) from refusal
    return _printed(notes, written, tuning)


def _place(note: Note, wish: Written, tuning: Tuning) -> tuple[int, int] | None:
    if wish.string is None:
        return None
    return wish.string, note.midi - tuning.open_midi[wish.string - 1]


def _printed(notes: Sequence[Note], written: Sequence[Written], tuning: Tuning) -> list[Note]:
    """The notes at their places with the fingers that are written, and no others."""
    found = []
    for note, wish in zip(notes, written, strict=True):
        place = _place(note, wish, tuning)
        assert place is not None, "asked for lines whose places are all written"
        found.append(replace(note, fretting=Fretting(*place, finger=wish.finger)))
    return found


def _with_fingers(notes: Sequence[Note], written: Sequence[Written]) -> list[Note]:
    """The notes with the fingers that are written where the hand would take others."""
    return [
        note
        if wish.finger is None or note.fretting is None
        else replace(note, fretting=replace(note.fretting, finger=wish.finger))
        for note, wish in zip(notes, written, strict=True)
    ]


def led_up_to(before: Sequence[Note], notes: Sequence[Note]) -> list[Note]:
    """The notes of a turn, the first one with the shift that leads to it from the turn before."""
    if not before or not notes:
        return list(notes)
    a, b = before[-1].fretting, notes[0].fretting
    if a is None or b is None or not a.finger or not b.finger:
        return list(notes)
    if a.fret - a.finger == b.fret - b.finger:
        return list(notes)
    first = replace(notes[0], fretting=replace(b, move=HandMove.SHIFT))
    return [first, *notes[1:]]


def with_degrees(notes: Iterable[Note], timeline: Timeline) -> Iterator[Note]:
    """The notes with their degrees over the chords that they sound with."""
    for note in notes:
        chord = timeline.chord_at(note.onset_beats).chord
        if chord is None:
            yield note
            continue
        degree = chord.degree_of(note.midi)
        with suppress(InputError):
            degree = degree or degree_over(chord.root, note.pitch.name)
        yield replace(note, degree=degree)


# --- notes together --------------------------------------------------------------------------------

_Stroke = list[tuple[Note, Written]]
_Places = tuple[tuple[int, int], ...]
"""String and fret of each note of a stroke, the lowest note first."""


def _strokes(strokes: Sequence[_Stroke], tuning: Tuning, wishes: Wishes) -> list[Note]:
    layers = [_ways(stroke, tuning, wishes) for stroke in strokes]
    for stroke, found_ways in zip(strokes, layers, strict=True):
        if not found_ways:
            said = " and ".join(str(note.pitch) for note, _ in stroke)
            raise LineError(
                f"{said} cannot be held together"
                if len(stroke) > 1
                else f"{said} cannot be played here",
                hint="write notes within one hand's reach, each on a string of its own",
            )

    def own(layer: int, way: _Places) -> int:
        held, fret = layers[layer][way], _lowest_fret(way)
        cost = held.cost if held is not None else 0
        if held is not None and fret > _OPEN_FRETS and any(not open_fret for _, open_fret in way):
            cost += _OPEN_AND_HIGH
        if wishes.position is not None and fret:
            cost += _AWAY * max(0, wishes.position - fret, fret - wishes.position - 3)
        return cost + _HIGH * fret

    def change(layer: int, before: _Places, after: _Places) -> int:
        a, b = _lowest_fret(before), _lowest_fret(after)
        return _TRAVEL * abs(b - a) if a and b else 0

    ways = cheapest_path([list(layer) for layer in layers], own, change)[1]
    holds = [layer[way] for layer, way in zip(layers, ways, strict=True)]
    # The line of the highest notes goes through the chords, which hold their own.
    tops = [stroke[-1][0] for stroke in strokes]
    written = [
        Written(way[-1][0], held.fingers[way[-1][0]] if held is not None else stroke[-1][1].finger)
        if len(stroke) > 1
        else stroke[-1][1]
        for stroke, way, held in zip(strokes, ways, holds, strict=True)
    ]
    line = _single(tops, written, tuning, wishes)
    found: list[Note] = []
    for stroke, way, held, top in zip(strokes, ways, holds, line, strict=True):
        for (note, wish), place in zip(stroke[:-1], way[:-1], strict=True):
            finger = wish.finger
            if finger is None and held is not None:
                finger = held.fingers[place[0]]
            found.append(replace(note, fretting=Fretting(*place, finger)))
        kept = top
        if len(stroke) > 1 and top.fretting is not None:
            # The hand goes to a chord as to its highest note; nothing rolls into one.
            move = HandMove.NONE if top.fretting.move is HandMove.ROLL else top.fretting.move
            first = found[1 - len(stroke)]
            assert first.fretting is not None
            found[1 - len(stroke)] = replace(first, fretting=replace(first.fretting, move=move))
            kept = _with_fingers([top], [stroke[-1][1]])[0]
            kept = replace(kept, fretting=replace(top.fretting, move=HandMove.NONE))
        found.append(kept)
    return found


def _under_one_hand(
    choices: Sequence[Sequence[tuple[int, int]]], tuning: Tuning, *, is_written: bool
) -> list[_Places]:
    """Every choice of a place a note, on a string each and within reach, unless all are written."""
    found: list[_Places] = [()]
    for places_of_note in choices:
        longer = ((*taken, place) for taken in found for place in places_of_note)
        found = [
            taken
            for taken in longer
            if len({string for string, _ in taken}) == len(taken)
            and (is_written or _span_mm(taken, tuning) <= tuning.hand.reach_mm)
        ]
    return found


def _span_mm(way: _Places, tuning: Tuning) -> float:
    stopped = [tuning.fret_mm(fret) for _, fret in way if fret]
    return max(stopped) - min(stopped) if stopped else 0.0


def _lowest_fret(way: _Places) -> int:
    """The lowest fret that is stopped, 0 for open strings only."""
    return min((fret for _, fret in way if fret), default=0)


def _ways(stroke: _Stroke, tuning: Tuning, wishes: Wishes) -> dict[_Places, HeldChord | None]:
    """The ways to take a stroke, and how each is held: None for a single note."""
    choices = [
        [
            (place.string, place.fret)
            for place in places(tuning, note.midi)
            if (wish.string is None or place.string == wish.string)
            and (wishes.strings is None or place.string in wishes.strings)
            and not (wishes.closed and place.fret == 0)
        ]
        for note, wish in stroke
    ]
    is_written = all(wish.string is not None for _, wish in stroke)
    found: dict[_Places, HeldChord | None] = {}
    for taken in _under_one_hand(choices, tuning, is_written=is_written):
        held = held_chord(dict(taken), tuning) if len(taken) > 1 else None
        if held is not None or len(taken) == 1 or is_written:
            found[taken] = held
    return found
