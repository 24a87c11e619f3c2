"""Own shapes in a short text that a guitarist reads at once.

    # what I teach
    C, A form: 5/3-2 4/2-1 4/5-2 3/5-3 2/5-4 1/3-1 | 5/3-3 6/3-2
    Cm7, my sweep: 5/3-1 4/5-3 3/3-1 2/4-2 1/3-1 1/6-4

An entry is a chord, a comma, the form it takes the place of or a name of its own, a colon, and the
notes: string/fret-finger, from the lowest root up to the top. After the bar stands the way down
where it is fingered otherwise, and on below the root; back to the root it goes the same way, unless
that is written too. Notes without a finger are fingered by genex.
One entry serves every root. Notes that do not rise are practised in the order in which they
stand. A long entry goes on in lines that begin with a space. ``tuning: drop D`` says what neck the
entries after it are for. ``prefer: fewer rolls``, ``fewer shifts``, ``first finger on the root`` or
``second finger on the root`` guide what is computed; ``all tones in order`` stacks no thirds.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path

from genex.errors import FretboardError, InputError, Place
from genex.fretboard.own_shape import NO_TASTE, OwnShape, OwnStep, Taste, intervals_of
from genex.fretboard.shape import Shape, ShapeNote
from genex.fretboard.shapes import own_path_fingered
from genex.fretboard.tunings import STANDARD, Tuning, pitch_at, tuning
from genex.inputs import read_file
from genex.theory import Chord, NoteName, parse_chord, without_clash

HOUSE_FINGERINGS = "fingerings.txt"
"""The file of own shapes that all recipes of its folder use."""

MAX_BYTES = 1 << 20

_NOTE = re.compile(r"(\d{1,2})/(\d{1,2})(?:-([0-4]))?")
_EXAMPLE = "write for example  C, A form: 5/3-2 4/2-1 4/5-2 3/5-3 2/5-4 1/3-1"
_TASTES: dict[str, tuple[str, object]] = {
    "fewer rolls": ("fewer", "rolls"),
    "fewer shifts": ("fewer", "shifts"),
    "first finger on the root": ("root_finger", 1),
    "second finger on the root": ("root_finger", 2),
    "all tones in order": ("all_tones", True),
}
_ROOTS = tuple(NoteName.parse(name) for name in "C Db D Eb E F Gb G Ab A Bb B".split())


@dataclass(frozen=True)
class _Word:
    """A word of an entry and where it stands."""

    text: str
    place: Place


@dataclass(frozen=True)
class Fingerings:
    """What a file of fingerings gives."""

    own: tuple[OwnShape, ...]
    taste: Taste = NO_TASTE

    def on(self, neck: Tuning) -> Tuning:
        """The neck of the player whose shapes and tastes these are."""
        return replace(neck, own=self.own, taste=self.taste)


NO_FINGERINGS = Fingerings(())
"""What a player has who keeps no such file."""


def read_fingerings(path: Path) -> Fingerings:
    """The own shapes and tastes of a file. Raises FretboardError with line and column."""
    try:
        data = read_file(path, MAX_BYTES)
        text = data.decode("utf-8-sig")
    except (OSError, ValueError) as error:  # ValueError: no UTF-8; a name with a null character
        raise FretboardError(
            f"the file of fingerings '{path}' cannot be read", hint="write the name of a text file"
        ) from error
    if len(data) > MAX_BYTES:
        raise FretboardError(
            f"the file of fingerings '{path}' is larger than {MAX_BYTES // 1024} kB",
            hint="a file of fingerings is a short text; is this the right one?",
        )
    return parse_fingerings(text, str(path))


def house_fingerings(folder: Path) -> Fingerings:
    """Those of the file that all recipes of a folder use; none where there is no such file.

    Raises FretboardError as ``read_fingerings``.
    """
    try:
        return read_fingerings(folder / HOUSE_FINGERINGS)
    except FretboardError as error:
        if isinstance(error.__cause__, FileNotFoundError):
            return NO_FINGERINGS
        raise


@lru_cache(maxsize=8)
def parse_fingerings(text: str, file: str) -> Fingerings:
    """The own shapes and tastes of a text. Raises FretboardError with line and column."""
    neck, taste = STANDARD, NO_TASTE
    found: list[OwnShape] = []
    for head, words in _entries(text, file):
        if head.text.lower() == "tuning":
            name = " ".join(word.text for word in words)
            try:
                neck = tuning(name)
            except FretboardError as error:
                raise FretboardError(error.message, hint=error.hint, place=head.place) from error
        elif head.text.lower() == "prefer":
            taste = _taste(" ".join(word.text for word in words), taste, head.place)
        else:
            found.append(_entry(head, words, neck))
    return Fingerings(tuple(found), taste)


def _taste(text: str, taste: Taste, place: Place) -> Taste:
    """A taste with what is written; of two that contradict each other the first holds."""
    wished: dict[str, object] = {}
    for wish in (part.strip().lower() for part in text.split(",")):
        if wish not in _TASTES:
            raise FretboardError(
                f"'{wish}' is not a preference", hint=f"write {', '.join(_TASTES)}", place=place
            )
        field, value = _TASTES[wish]
        wished.setdefault(field, value)
    return replace(taste, **wished)  # type: ignore[arg-type]


def _entries(text: str, file: str) -> Iterator[tuple[_Word, list[_Word]]]:
    """Head and words of each entry, continuation lines joined."""
    head: _Word | None = None
    words: list[_Word] = []
    for number, line in enumerate(text.splitlines(), start=1):
        written = line.split("#", 1)[0] if not re.match(r"[A-G]#", line) else re.split(r"\s#", line)[0]
        if not written.strip():
            continue
        start = 0
        if not written[0].isspace():
            if head is not None:
                yield head, words
            before, colon, _ = written.partition(":")
            if not colon:
                place = Place(file, number, len(written.rstrip()) + 1)
                raise FretboardError("there is no colon before the notes", hint=_EXAMPLE, place=place)
            head, words, start = _Word(before.strip(), Place(file, number, 1)), [], len(before) + 1
        elif head is None:
            raise FretboardError(
                "notes without a chord and a form", hint=_EXAMPLE, place=Place(file, number, 1)
            )
        words += [
            _Word(found.group(), Place(file, number, found.start() + 1))
            for found in re.compile(r"\S+").finditer(written, start)
        ]
    if head is not None:
        yield head, words


def _entry(head: _Word, words: Sequence[_Word], neck: Tuning) -> OwnShape:
    symbol, comma, form = head.text.partition(",")
    if not comma or not form.strip():
        raise FretboardError(
            f"'{head.text}' names no form", hint=f"{_EXAMPLE}, or a name of your own", place=head.place
        )
    try:
        chord = parse_chord(symbol.strip())
    except InputError as error:
        raise FretboardError(error.message, hint=error.hint, place=head.place) from error
    bars = [index for index, word in enumerate(words) if word.text == "|"]
    if len(bars) > 1:
        place = words[bars[1]].place
        raise FretboardError("a second bar", hint="one bar parts the way below the root", place=place)
    placed = [(word, _step(word, chord, neck)) for word in words if word.text != "|"]
    if len(placed) < 2:
        raise FretboardError("an entry of fewer than two notes", hint=_EXAMPLE, place=head.place)
    cut = bars[0] if bars else len(placed)
    path = _path([step for _, step in placed[:cut]], [step for _, step in placed[cut:]], neck)
    roots = [i for i, step in enumerate(path) if _midi(step, neck) % 12 == chord.root.pitch_class]
    played = {chord.root.degree(degree).pitch_class for degree in without_clash(chord.degrees)}
    missing = played - {_midi(step, neck) % 12 for step in path}
    if missing or not roots:
        lacking = ", ".join(str(note) for note in chord.notes if note.pitch_class in missing)
        raise FretboardError(
            f"the shape lacks {lacking} of {chord}",
            hint="write every tone of the chord",
            place=head.place,
        )
    _require_playable(placed, neck)
    name = re.sub(r"\s+form$", "", form.strip(), flags=re.IGNORECASE)
    degrees = frozenset(chord.degrees)
    return OwnShape(name, degrees, intervals_of(neck.open_midi), tuple(path), roots[0])


def _step(word: _Word, chord: Chord, neck: Tuning) -> OwnStep:
    match = _NOTE.fullmatch(word.text)
    if match is None:
        raise FretboardError(
            f"'{word.text}' is not a note", hint="write string/fret-finger: 5/3-2", place=word.place
        )
    string, fret = int(match[1]), int(match[2])
    finger = None if match[3] is None else int(match[3])
    try:
        midi = pitch_at(neck, string, fret)
    except FretboardError as error:
        raise FretboardError(error.message, hint=error.hint, place=word.place) from error
    if midi % 12 not in chord.pitch_classes:
        tones = " ".join(map(str, chord.notes))
        sounds = NoteName.parse(str(_ROOTS[midi % 12]))
        raise FretboardError(
            f"{string}/{fret} sounds {sounds}, which is not in {chord}",
            hint=f"the tones of {chord} are {tones}",
            place=word.place,
        )
    if finger is not None and (finger == 0) != (fret == 0):
        raise FretboardError(
            f"finger {finger} at fret {fret}",
            hint="0 is an open string; a fret is stopped by finger 1 to 4",
            place=word.place,
        )
    return OwnStep(string, fret, finger)


def _midi(step: OwnStep, neck: Tuning) -> int:
    return pitch_at(neck, step.string, step.fret)


def _path(up: Sequence[OwnStep], below: Sequence[OwnStep], neck: Tuning) -> list[OwnStep]:
    """The order of practice: up, back, on below the root and back to it; as written if it does
    not rise."""
    pitches = [_midi(step, neck) for step in up]
    if sorted(set(pitches)) != pitches:
        return [*up, *below]
    if not below:
        return [*up, *up[-2::-1]]
    # The bar's part takes the place of the way down from its first note on.
    start = _midi(below[0], neck)
    back = [step for step, pitch in zip(up[-2::-1], pitches[-2::-1], strict=True) if pitch > start]
    whole = len(below) > 1 and _midi(below[-1], neck) == pitches[0] and start >= pitches[0]
    lowest = min(range(len(below)), key=lambda index: _midi(below[index], neck))
    returns = whole and lowest < len(below) - 1
    from_root = next((i for i, step in enumerate(below) if _midi(step, neck) == pitches[0]), 0)
    mirrored = [] if returns else below[from_root : lowest + 1][-2::-1]
    return [*up, *back, *below, *mirrored]


def _require_playable(placed: Sequence[tuple[_Word, OwnStep]], neck: Tuning) -> None:
    """Raise FretboardError at the first note that no hand can come to with the fingers given."""
    steps = [step for _, step in placed]
    for count, (word, step) in enumerate(placed, start=1):
        try:
            own_path_fingered(steps[:count], neck)
        except FretboardError as error:
            with_finger = "" if step.finger is None else f" with finger {step.finger}"
            raise FretboardError(
                f"no hand comes to {step.string}/{step.fret}{with_finger} from the note before",
                hint="write another finger, or none to have it computed",
                place=word.place,
            ) from error


def unplayable_roots(own: OwnShape, neck: Tuning) -> tuple[NoteName, ...]:
    """The roots for which an own shape of this neck's intervals does not lie on the neck."""
    if intervals_of(neck.open_midi) != own.intervals:
        return ()
    return tuple(
        root for root in _ROOTS if own.at(root.pitch_class, neck.open_midi, neck.last_fret) is None
    )


def written_shape(name: str, shape: Shape) -> str:
    """A shape as an entry of such a text, to start from. ``name`` is the chord's symbol."""
    path = [step.note for step in shape.path]
    root = shape.lowest_root
    top = len(shape.notes) - 1 - root
    # The way down is written from the highest note on that it takes otherwise, at least the root.
    highest = max((index for index in shape.other_fingers if index > root), default=root)
    rest = path[top + len(shape.notes) - 1 - highest :]
    below = path[2 * top :]
    if below == below[::-1]:
        rest = rest[: len(rest) - len(below) // 2]
    words = [_spoken(note) for note in path[: top + 1]]
    if root or highest > root:
        words += ["|", *map(_spoken, rest)]
    form = f"{shape.form} form" if len(shape.form) == 1 else shape.form
    return f"{name}, {form}: {' '.join(words)}"


def _spoken(note: ShapeNote) -> str:
    return f"{note.string}/{note.fret}-{note.finger}"
