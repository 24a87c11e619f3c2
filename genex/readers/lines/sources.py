"""Where a line comes from: text in a recipe, or a file beside it, by the ending of its name."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from genex.errors import ChartFileError, Place
from genex.fretboard import Tuning
from genex.readers.charts.kinds import file_bytes, file_text
from genex.readers.charts.mxl import score_of
from genex.readers.lines.abc_line import read_abc_line
from genex.readers.lines.musicxml_line import read_musicxml_line
from genex.readers.lines.places import Locate, in_file
from genex.readers.lines.tab_line import read_tab_line
from genex.readers.lines.typed_line import TypedLine, TypedNote
from genex.readers.midi_file import read_phrase
from genex.score import Meter
from genex.theory import Key, NoteNames

MAX_BYTES = 4 << 20


@dataclass(frozen=True)
class Around:
    """What a line is read for: the meters of the bars it is to stand over, the key, the instrument, and
    how chords above a tab are named."""

    meters: Sequence[Meter]
    key: Key
    tuning: Tuning
    note_names: NoteNames = "english"


def read_own_line(
    *,
    abc: str | None,
    tab: str | None,
    path: Path | None,
    number: int | None,
    around: Around,
    locate: Callable[[str], Locate],
) -> TypedLine:
    """The line that is written in one of three ways. ``locate`` gives the places inside of a field.

    Raises ChartFileError and MidiFileError, with line and column where there are lines.
    """
    if path is not None:
        return _of_file(path, number, around)
    if abc is not None:
        return read_abc_line(abc, locate("abc"), around.meters, around.key, number)
    assert tab is not None, "one of the three is written"
    return _of_tab(tab, locate("tab"), around)


def _of_file(path: Path, number: int | None, around: Around) -> TypedLine:
    file, ending = str(path), path.suffix.lower()
    if ending in (".mid", ".midi"):
        return _of_midi(path, number, around)
    readers = {
        ".abc": "abc",
        ".tab": "tab",
        ".txt": "tab",
        ".musicxml": "xml",
        ".xml": "xml",
        ".mxl": "mxl",
    }
    kind = readers.get(ending)
    if kind is None:
        raise ChartFileError(
            f"'{ending}' is not a format that is read",
            hint="name a file that ends in .abc, .tab, .txt, .musicxml, .xml, .mxl or .mid",
            place=Place(file),
        )
    data = file_bytes(path, "line")
    if kind in ("xml", "mxl"):
        score = score_of(data, file, MAX_BYTES) if kind == "mxl" else data
        return read_musicxml_line(score, file, around.meters, number)
    text = file_text(data, file)
    if kind == "abc":
        return read_abc_line(text, in_file(file), around.meters, around.key, number)
    return _of_tab(text, in_file(file), around)


def _of_tab(text: str, locate: Locate, around: Around) -> TypedLine:
    return read_tab_line(
        text, locate, around.meters, around.key, around.tuning, note_names=around.note_names
    )


def _of_midi(path: Path, number: int | None, around: Around) -> TypedLine:
    """The phrase of a MIDI file, which has a meter wherever it says one."""
    score = read_phrase(path, around.tuning, track=number)
    (part,) = score.parts
    place = Place(str(path))
    notes = tuple(TypedNote(replace(note, fretting=None), place) for note in part.notes)
    meters = tuple(bar.meter for bar in score.timeline.bars)
    return TypedLine(notes, meters, says_meter=True, key=score.timeline.key)
