"""Shapes: every chord or scale tone that one hand position holds, fingered, and its practice path.

What a shape is
---------------
A shape lies in the window of a form (``forms.py``). It holds every tone that the window holds
and, in tunings with intervals wider than a fourth, the tones missing between two strings, so
that between its lowest and its highest note no tone is left out; each pitch is there once.
Chords with a ninth and more are stacked in thirds, as players arpeggiate them
(``theory/stacks.py``), unless they are asked for in order of pitch.
Where two places offer one pitch, the fingering decides. Fingers belong to the practice path: up and
down again from the lowest root they are the same; where the path goes on below the root, the
hand may come down to it with others. One finger a fret takes four of the window's five frets;
what lies outside is reached by a hop, a cluster, or the first finger's reach back.

Together the shapes of a tuning cover the neck: taking twelve frets as one turn, every fret is in
a window, windows that follow each other overlap, and in standard tuning every single place of a
chord tone belongs to at least one of the five shapes.

A shape is placed as low as it can lie without open strings. On a neck too short for that, or
where the low frets are the ones that are played (fewer than six strings), it moves down to the
nut and uses them before it goes up an octave.

The *open form* is no window but the open position: frets 0 to 4, an open string wherever one has
the pitch. A chord or scale has it if at least two open strings are among its tones [common
practice]. It cannot be moved along the neck, so it stands beside the others only if asked for.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping, Sequence
from contextlib import suppress
from functools import partial
from itertools import groupby

from genex.errors import FretboardError
from genex.fretboard.fingering import Fingered, finger_among, main_position
from genex.fretboard.forms import WINDOW_FRETS, Form, form_named, forms_of
from genex.fretboard.hand import HandMove
from genex.fretboard.own_shape import OwnStep
from genex.fretboard.shape import Json, Shape, ShapeNote, practice_order, with_moves_of
from genex.fretboard.tunings import Hand, Place, Tuning, pitch_at, places
from genex.fretboard.wishes import Wishes
from genex.theory import Chord, Degree, NoteName, stacked_thirds

OPEN_FORM = "open"
_OPEN_FRETS = 4
_FEWEST_OPEN_STRINGS = 2
_MANY_STRINGS = 6
_ERRAND_NOTES = 2


def shapes(
    degrees: Sequence[Degree],
    root: NoteName,
    tuning: Tuning,
    *,
    hand: Hand | None = None,
    in_thirds: bool = True,
    with_open: bool = False,
) -> tuple[Shape, ...]:
    """The shapes of a chord or scale, from the nut upwards; five in standard tuning.

    ``degrees`` over ``root``, in any order; of two at one pitch class the first names it.
    ``in_thirds`` stacks chords with extensions; without it they hold every tone of the window.
    ``with_open`` adds the open form, if there is one.
    Raises FretboardError when the tuning holds them in no position.
    """
    in_thirds = in_thirds and not tuning.taste.all_tones
    own = _own_shapes(degrees, root, tuning, hand)
    mine = frozenset(own)
    opened = own.pop(OPEN_FORM, None)
    found = [
        own.pop(form.name) if form.name in own else _shape(form, degrees, root, tuning, hand, in_thirds)
        for form in forms_of(tuning)
    ]
    computed = [shape for shape in found if shape is not None]
    if with_open and opened is None:
        opened = _open_shape(degrees, root, tuning, hand, in_thirds)
    if with_open and opened is not None:
        # A form at the nut, on a neck of few strings, is a part of it.
        computed = [each for each in computed if each.form in mine or all(n.fret for n in each.notes)]
        computed.insert(0, opened)
    fitting = [*computed, *own.values()]
    if not fitting:
        raise _does_not_fit(degrees, root, tuning)
    return tuple(sorted(fitting, key=lambda shape: (_lowest_fret(shape), shape.position)))


def shape(
    degrees: Sequence[Degree],
    root: NoteName,
    tuning: Tuning,
    form: str,
    *,
    hand: Hand | None = None,
    in_thirds: bool = True,
) -> Shape:
    """The shape of one form, ``open`` too. Raises FretboardError naming the forms that there are."""
    in_thirds = in_thirds and not tuning.taste.all_tones
    own = _own_shapes(degrees, root, tuning, hand)
    by_name = {name.lower(): each for name, each in own.items()}
    plain = form.strip().lower()
    if (mine := by_name.get(plain) or by_name.get(plain.removesuffix("form").strip())) is not None:
        return mine
    if plain.split()[:1] == [OPEN_FORM]:
        found = _open_shape(degrees, root, tuning, hand, in_thirds)
    else:
        found = _shape(form_named(form, tuning), degrees, root, tuning, hand, in_thirds)
    if found is not None:
        return found
    others = ", ".join(other.form for other in shapes(degrees, root, tuning, hand=hand))
    raise FretboardError(
        f"{root} has no open form in {tuning}: it has fewer than two open strings among its tones"
        if form.strip().lower().startswith(OPEN_FORM)
        else f"the form {form} of {root} does not fit on the {tuning.last_fret} frets of {tuning}",
        hint=f"these forms do: {others}",
    )


def chord_shapes(
    chord: Chord, tuning: Tuning, *, hand: Hand | None = None, with_open: bool = False
) -> tuple[Shape, ...]:
    """The shapes of a chord's tones (a foreign slash bass is left out)."""
    return shapes(chord.degrees, chord.root, tuning, hand=hand, with_open=with_open)


def chord_shape(chord: Chord, tuning: Tuning, form: str, *, hand: Hand | None = None) -> Shape:
    """One form of a chord. Raises FretboardError naming the forms that there are."""
    return shape(chord.degrees, chord.root, tuning, form, hand=hand)


def shapes_as_json(chord: str, found: Sequence[Shape]) -> Json:
    """``{"chord", "shapes": [{"form", "position", "notes", "path"}]}``.

    A note that the practice path takes with a second finger too has it as ``other_finger``.
    """
    return {"chord": chord, "shapes": [shape.as_json() for shape in found]}


def along_strings(
    degrees: Sequence[Degree],
    root: NoteName,
    tuning: Tuning,
    strings: Collection[int],
    *,
    hand: Hand | None = None,
) -> Shape:
    """Every tone on one string, or on some, over the whole neck without open strings.

    The form is called ``string 2`` or ``strings 2 3``. Raises FretboardError.
    """
    wished = sorted(set(strings))
    if not wished:
        raise FretboardError("no string is named", hint=f"name strings 1 to {len(tuning.strings)}")
    by_pitch: dict[int, set[Place]] = {}
    names = _names(degrees, root)
    for string in wished:
        for fret in range(1, tuning.last_fret + 1):
            midi = pitch_at(tuning, string, fret)
            if midi % 12 in names:
                by_pitch.setdefault(midi, set()).add(Place(string, fret))
    if not by_pitch:
        raise _does_not_fit(degrees, root, tuning)
    label = f"string{'s' if len(wished) > 1 else ''} {' '.join(map(str, wished))}"
    return _fingered_shape(label, by_pitch, names, root, tuning, hand)


def extended(
    found: Shape,
    degrees: Sequence[Degree],
    tuning: Tuning,
    octaves: int = 2,
    *,
    hand: Hand | None = None,
) -> Shape:
    """A shape carried on by shifts until it spans ``octaves`` from its lowest root, or the neck ends.

    The shape's own notes keep their places; what lies above is fingered as it suits best,
    without open strings. A shape that is wide enough already is returned as it is.
    """
    names = _names(degrees, found.root)
    top = found.notes[found.lowest_root].midi + 12 * octaves
    by_pitch: dict[int, set[Place]] = {note.midi: {note.place} for note in found.notes}
    for midi in range(found.notes[-1].midi + 1, top + 1):
        stopped = {place for place in places(tuning, midi) if place.fret > 0}
        if midi % 12 in names and stopped:
            by_pitch[midi] = stopped
    if len(by_pitch) == len(found.notes):
        return found
    return _fingered_shape(found.form, by_pitch, names, found.root, tuning, hand)


def _names(degrees: Sequence[Degree], root: NoteName) -> dict[int, tuple[Degree, NoteName]]:
    """Degree and spelled name of each pitch class."""
    if not degrees:
        raise FretboardError("a shape needs at least one degree", hint="write for example 1 3 5")
    names: dict[int, tuple[Degree, NoteName]] = {}
    for degree in degrees:
        name = root.degree(degree)
        names.setdefault(name.pitch_class, (degree, name))
    return names


def _shape(
    form: Form,
    degrees: Sequence[Degree],
    root: NoteName,
    tuning: Tuning,
    hand: Hand | None,
    in_thirds: bool,
) -> Shape | None:
    """The shape of a form at its lowest place without open strings, else with them, else None."""
    names = _names(degrees, root)
    start = form.start_for(root.pitch_class)
    ways = [(1, start), (1, start + 12), (0, start - 12), (0, start)]
    if len(tuning.strings) < _MANY_STRINGS:
        # A window that the nut cuts by more than its lowest fret holds too little to begin with.
        low = [(0, start - 12)] if start - 12 >= -1 else []
        ways = [*low, (1, start), (0, start), (1, start + 12), (0, start - 12)]
    for lowest_fret, at in ways:
        by_pitch = _window_places(at, names, tuning, lowest_fret)
        if by_pitch is not None:
            if in_thirds:
                stack = stacked_thirds(degrees, root, sorted(by_pitch))
                by_pitch = {midi: by_pitch[midi] for midi in stack}
            return _fingered_shape(form.name, by_pitch, names, root, tuning, hand, at)
    return None


def _own_shapes(
    degrees: Sequence[Degree], root: NoteName, tuning: Tuning, hand: Hand | None
) -> dict[str, Shape]:
    """The player's own shapes of a chord that lie on the neck for this root, by form."""
    found: dict[str, Shape] = {}
    names = _names(degrees, root) if tuning.own else {}
    for own in tuning.own:
        if own.degrees != frozenset(degrees):
            continue
        path = own.at(root.pitch_class, tuning.open_midi, tuning.last_fret)
        if path is None:
            continue
        line = own_path_fingered(path, tuning, hand=hand)
        walked = [
            _noted(pitch_at(tuning, *note.place), note, *names[pitch_at(tuning, *note.place) % 12])
            for note in line
        ]
        first = {note.place: note for note in reversed(walked)}
        notes = tuple(sorted(first.values(), key=lambda note: note.midi))
        found[own.form] = Shape(own.form, main_position(notes), root, notes, with_moves_of(walked))
    return found


def own_path_fingered(
    path: Sequence[OwnStep], tuning: Tuning, *, hand: Hand | None = None
) -> tuple[Fingered, ...]:
    """A path with the fingers that its player gave, the others computed. Raises FretboardError."""
    return finger_among(
        [pitch_at(tuning, step.string, step.fret) for step in path],
        [[(step.string, step.fret)] for step in path],
        tuning,
        Wishes(hand=hand),
        held=[None if step.finger is None else (step.finger, None) for step in path],
    )


def _open_shape(
    degrees: Sequence[Degree], root: NoteName, tuning: Tuning, hand: Hand | None, in_thirds: bool
) -> Shape | None:
    """The open form, or None where the open strings are not the chord's or a degree is lacking."""
    names = _names(degrees, root)
    opens = [midi for midi in tuning.open_midi if midi % 12 in names]
    if len(opens) < _FEWEST_OPEN_STRINGS:
        return None
    by_pitch: dict[int, set[Place]] = {}
    low, high = min(tuning.open_midi), max(tuning.open_midi) + _OPEN_FRETS
    for midi in (m for m in range(low, high + 1) if m % 12 in names):
        found = places(tuning, midi)  # from the nut upwards
        near = [place for place in found if place.fret <= _OPEN_FRETS] or found[:1]
        if not near:
            return None
        by_pitch[midi] = {near[0]} if near[0].fret == 0 else set(near)
    stack = stacked_thirds(degrees, root, sorted(by_pitch)) if in_thirds else by_pitch
    by_pitch = {midi: by_pitch[midi] for midi in stack}
    has_root = any(names[midi % 12][0] == Degree(1) for midi in by_pitch)
    if {midi % 12 for midi in by_pitch} != set(names) or not has_root:
        return None
    return _fingered_shape(OPEN_FORM, by_pitch, names, root, tuning, hand)


def _window_places(
    start: int, names: Mapping[int, object], tuning: Tuning, lowest_fret: int
) -> dict[int, set[Place]] | None:
    """The places of each pitch of a window; None if the neck lacks one or a degree is missing.

    A pitch that only lies outside the window, between two strings, has its nearest places.
    """
    offered: dict[int, set[Place]] = {}
    for string, open_midi in enumerate(tuning.open_midi, start=1):
        for fret in range(start, start + WINDOW_FRETS):
            if (open_midi + fret) % 12 not in names:
                continue
            found = offered.setdefault(open_midi + fret, set())
            if lowest_fret <= fret <= tuning.last_fret:
                found.add(Place(string, fret))
    if not offered or not all(offered.values()) or {midi % 12 for midi in offered} != set(names):
        return None
    for midi in range(min(offered), max(offered)):
        if midi % 12 in names and midi not in offered:
            offered[midi] = _nearest_places(midi, start, tuning, lowest_fret)
            if not offered[midi]:
                return None
    return offered


def _nearest_places(midi: int, start: int, tuning: Tuning, lowest_fret: int) -> set[Place]:
    """The places of a pitch that are nearest to a window."""

    def away(place: Place) -> int:
        return max(start - place.fret, place.fret - (start + WINDOW_FRETS - 1))

    found = [place for place in places(tuning, midi) if place.fret >= lowest_fret]
    nearest = min(map(away, found), default=0)
    return {place for place in found if away(place) == nearest}


def _fingered_shape(
    label: str,
    by_pitch: Mapping[int, Collection[Place]],
    names: Mapping[int, tuple[Degree, NoteName]],
    root: NoteName,
    tuning: Tuning,
    hand: Hand | None,
    start: int | None = None,
) -> Shape:
    """A shape of these pitches; in a form's window, which begins at ``start``, where that can be."""
    midis = sorted(by_pitch)
    held = start is not None and all(
        start <= place.fret < start + WINDOW_FRETS for found in by_pitch.values() for place in found
    )
    between = (max(1, start), max(1, start + 3)) if start is not None and held else None
    lowest = next((i for i, midi in enumerate(midis) if names[midi % 12][0] == Degree(1)), 0)
    order = practice_order(len(midis), lowest)
    finger = partial(_finger_path, midis, order, tuning=tuning, hand=hand, between=between)
    line = finger(by_pitch)
    turn = 2 * (len(midis) - 1 - lowest)  # index of the root after the way up and back
    errands = _errands(line[: turn + 1], tuning) | _errands(line[turn:], tuning)
    if start is not None and errands:
        # Rather a fret beyond the window than out and back for a tone at its end.
        wider = {
            midi: {*found, *_beside_window(midi, start, tuning)} if midi in errands else found
            for midi, found in by_pitch.items()
        }
        other = finger(wider)
        if _shifts(other) < _shifts(line):
            by_pitch, line = wider, other
    if tuning.taste.root_finger is not None:
        line = finger(by_pitch, root_finger=tuning.taste.root_finger)
    walked = [
        _noted(midis[index], fingered, *names[midis[index] % 12])
        for index, fingered in zip(order, line, strict=True)
    ]
    # The way up: from the root to the top, and below the root the way back to it.
    upward = dict(zip(order, walked, strict=True))
    upward |= dict(zip(order[: len(midis) - lowest], walked, strict=False))
    notes = tuple(upward[index] for index in range(len(midis)))
    return Shape(label, main_position(notes), root, notes, with_moves_of(walked))


def _errands(line: Sequence[Fingered], tuning: Tuning) -> set[int]:
    """The pitches of one or two notes that the hand shifts for and then goes back to where it was."""
    stays = [list(stay) for _, stay in groupby(line, key=lambda note: note.position)]
    return {
        pitch_at(tuning, *note.place)
        for before, stay, after in zip(stays, stays[1:], stays[2:], strict=False)
        if len(stay) <= _ERRAND_NOTES and before[-1].position == after[0].position
        for note in stay
    }


def _beside_window(midi: int, start: int, tuning: Tuning) -> set[Place]:
    """The places of a pitch a fret below a window or above it."""
    return {
        place
        for place in places(tuning, midi)
        if place.fret in (start - 1, start + WINDOW_FRETS) and place.fret > 0
    }


def _finger_path(
    midis: Sequence[int],
    order: Sequence[int],
    by_pitch: Mapping[int, Collection[Place]],
    tuning: Tuning,
    hand: Hand | None,
    between: tuple[int, int] | None,
    root_finger: int | None = None,
) -> tuple[Fingered, ...]:
    """The practice path over these pitches, fingered.

    From the root to the top and back the fingers are the same. Where the way goes on below the
    root, the hand may come down to it with others, if that is worth learning two ways.
    ``root_finger`` is the one that the player likes to begin with.
    """
    on_one = len({place.string for found in by_pitch.values() for place in found}) == 1
    finger = partial(
        finger_among, tuning=tuning, wishes=Wishes(between=between, hand=hand), few_shifts=on_one
    )
    walked = [midis[index] for index in order]
    top = len(midis) - 1 - order[0]
    there_and_back = walked[: 2 * top + 1]
    line = _from_the_root(there_and_back, by_pitch, root_finger, finger)
    if len(walked) == len(line):
        return line
    # Down and below, and as a mirror image back: the lower notes are fingered alike both ways.
    known = dict(zip(walked, line[: top + 1], strict=False))
    down = walked[top : len(walked) - order[0]]
    mirrored = [*down, *down[-2::-1]]
    ends = {0: line[top], len(mirrored) - 1: line[top]}
    lower = finger(
        mirrored,
        [{known[midi].place} if midi in known else by_pitch[midi] for midi in mirrored],
        held=[_grip(ends[i]) if i in ends else None for i in range(len(mirrored))],
        wished=[known[midi].finger if midi in known else None for midi in mirrored],
    )
    known |= {
        note_midi: note for note_midi, note in zip(down, lower, strict=False) if note_midi not in known
    }
    # The whole way: the hand may end on the root otherwise than it came to it.
    held = [_grip(note) for note in line[: top + 1]]
    whole = partial(
        finger,
        walked,
        [{known[midi].place} for midi in walked],
        wished=[known[midi].finger for midi in walked],
    )
    back = walked[top + 1 :]
    found = whole(held=[*held, *(None for _ in back)])
    low = [note.finger for note, midi in zip(found[top + 1 :], back, strict=True) if midi < walked[0]]
    if low == low[::-1]:
        return found
    return whole(
        held=[*held, *((known[midi].finger, None) if midi < walked[0] else None for midi in back)]
    )


def _from_the_root(
    midis: Sequence[int],
    by_pitch: Mapping[int, Collection[Place]],
    root_finger: int | None,
    finger: Callable[..., tuple[Fingered, ...]],
) -> tuple[Fingered, ...]:
    """The way up and back, begun with the finger that the player likes if that asks for no more
    shifts."""
    found = [by_pitch[midi] for midi in midis]
    line = finger(midis, found)
    if root_finger is None:
        return line
    ends = (0, len(midis) - 1)
    held = [(root_finger, None) if index in ends else None for index in range(len(midis))]
    with suppress(FretboardError):
        other = finger(midis, found, held=held)
        if _shifts(other) <= _shifts(line):
            return other
    return line


def _shifts(line: Sequence[Fingered]) -> int:
    return sum(note.move is HandMove.SHIFT for note in line)


def _grip(note: Fingered) -> tuple[int, int]:
    return note.finger, note.position


def _noted(midi: int, fingered: Fingered, degree: Degree, name: NoteName) -> ShapeNote:
    pitch = name.at_or_above(midi)
    return ShapeNote(fingered.string, fingered.fret, pitch, degree, fingered.finger, fingered.position)


def _lowest_fret(shape: Shape) -> int:
    return min(note.fret for note in shape.notes)


def _does_not_fit(degrees: Sequence[Degree], root: NoteName, tuning: Tuning) -> FretboardError:
    """The error for a tuning too small for a chord."""
    tones = " ".join(str(root.degree(degree)) for degree in degrees)
    count = len(tuning.strings)
    return FretboardError(
        f"{tuning} ({count} string{'s' if count != 1 else ''}, {tuning.last_fret} frets) "
        f"holds {tones} in no position",
        hint="take more strings or frets, or a chord of fewer tones",
    )
