"""A phrase read from a Standard MIDI File, made a lead part that can be fingered and printed.

pretty_midi reads the file; this module asks for one voice of notes and chords, sets them on a written
grid and gives them names in the key.
"""

from __future__ import annotations

import io
import warnings
from collections.abc import Sequence
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from genex.errors import MidiFileError
from genex.exact import Fraction
from genex.fretboard import Tuning
from genex.inputs import read_file
from genex.lazy import lazy
from genex.lines.as_written import OPEN, fingered_as_written
from genex.lines.placement import off_open_strings
from genex.plain_text import clean
from genex.score import (
    Bar,
    ChordSpan,
    Meter,
    Note,
    Part,
    Role,
    Score,
    SectionSpan,
    TempoMap,
    Timeline,
)
from genex.theory import Key, NoteName
from genex.units import round_half_up

if TYPE_CHECKING:
    import pretty_midi
else:
    pretty_midi = lazy("pretty_midi")

GRIDS = (4, 3)
"""Parts of a beat that a note may begin on: sixteenths or triplets, whichever is nearer."""
MAX_NOTES = 5000
MAX_BARS = 4096
MAX_BYTES = 4 << 20
_MAJOR_KEYS = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
_MINOR_KEYS = ("C", "C#", "D", "Eb", "E", "F", "F#", "G", "G#", "A", "Bb", "B")


class _Heard(NamedTuple):
    """A note of the file, in ticks."""

    start: int
    end: int
    midi: int
    velocity: int


def read_phrase(
    path: Path,
    tuning: Tuning,
    *,
    track: int | None = None,
    position: int | None = None,
) -> Score:
    """The line of a MIDI file, of notes and chords, as a Score with one fingered lead part.

    ``track`` counts the melodic tracks that have notes from 1; without it there must be just one.
    Raises MidiFileError for a file that is no MIDI, has no notes or two voices, and
    LineError or FretboardError for notes that the instrument or the position cannot play.
    """
    file = _open(path)
    instrument = _instrument(file, track)
    heard = _strokes(file, instrument)
    key, resolution = _key(file), file.resolution
    bars = _bars(file, max(note.end for note in heard))
    # Bars of rest before the phrase are left away.
    while len(bars) > 1 and bars[1][0] <= heard[0].start:
        del bars[0]
    notes = _written(heard, bars[0][0], resolution, key)
    timeline = _timeline(notes, [meter for _, meter in bars], key, _tempo(file))
    part = Part.of(
        "phrase",
        Role.LEAD,
        instrument.program,
        fingered_as_written(notes, [OPEN] * len(notes), tuning, off_open_strings(position)),
        strings=tuning.strings,
        capo=tuning.capo,
    )
    return Score(title=clean(path.stem), feel="as read", timeline=timeline, parts=(part,))


def _open(path: Path) -> pretty_midi.PrettyMIDI:
    from mido.midifiles.meta import KeySignatureError

    data = _bytes(path)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            file = pretty_midi.PrettyMIDI(io.BytesIO(data))
            file.get_tempo_changes()
    except (
        EOFError, OSError, ValueError, LookupError, TypeError, AttributeError, ArithmeticError,
        RecursionError, KeySignatureError,
    ):  # fmt: skip
        # What mido and pretty_midi raise for damaged files; they promise no one kind.
        raise _not_midi(path) from None
    if not 1 <= file.resolution < 1 << 15:
        raise MidiFileError(
            f"'{path}' counts its time in frames of film, not in beats",
            hint="export the phrase with ticks per quarter note",
        )
    return file


def _bytes(path: Path) -> bytes:
    """The file's bytes. Raises MidiFileError."""
    try:
        data = read_file(path, MAX_BYTES)
    except (FileNotFoundError, ValueError):
        raise MidiFileError(f"there is no file '{path}'", hint="check the name") from None
    except IsADirectoryError:
        raise MidiFileError(f"'{path}' is a folder", hint="name the MIDI file inside it") from None
    except OSError as error:
        raise MidiFileError(f"'{path}' cannot be read: {error.strerror}") from None
    if len(data) > MAX_BYTES:
        raise MidiFileError(
            f"'{path}' is larger than {MAX_BYTES >> 20} MB",
            hint="a phrase is a short file: export the melody alone",
        )
    return data


def _not_midi(path: Path) -> MidiFileError:
    return MidiFileError(
        f"'{path}' is not a Standard MIDI File, or it is damaged",
        hint="export the phrase as a .mid file and try again",
    )


def _instrument(file: pretty_midi.PrettyMIDI, track: int | None) -> Any:
    melodic = [i for i in file.instruments if not i.is_drum and i.notes]
    if not melodic:
        raise MidiFileError("the file has no notes that could be fingered", hint="drums have no tab")
    listed = ", ".join(f"{n} {clean(i.name)[:40] or 'unnamed'}" for n, i in enumerate(melodic, start=1))
    if track is None and len(melodic) > 1:
        raise MidiFileError(
            f"the file has {len(melodic)} tracks with notes", hint=f"choose one with --track: {listed}"
        )
    number = 1 if track is None else track
    if not 1 <= number <= len(melodic):
        raise MidiFileError(f"there is no track {number} with notes", hint=f"there are: {listed}")
    return melodic[number - 1]


def _strokes(file: pretty_midi.PrettyMIDI, instrument: Any) -> list[_Heard]:
    """The notes in order, those of a chord alike in time.

    What begins at nearly the same time is struck together, and lasts as long as its longest note.
    Notes that overlap by a little (legato) are cut; two voices are refused.
    """
    heard = sorted(
        _Heard(file.time_to_tick(n.start), file.time_to_tick(n.end), n.pitch, n.velocity)
        for n in instrument.notes
    )
    if len(heard) > MAX_NOTES:
        raise MidiFileError(
            f"the track has {len(heard)} notes", hint=f"at most {MAX_NOTES} are fingered"
        )
    close = file.resolution // 12
    strokes: list[list[_Heard]] = []
    for note in heard:
        if strokes and note.start - strokes[-1][0].start < close:
            strokes[-1].append(note)
        else:
            strokes.append([note])
    found: list[_Heard] = []
    for stroke in strokes:
        start, end = stroke[0].start, max(note.end for note in stroke)
        by_pitch = {note.midi: note._replace(start=start, end=end) for note in stroke}
        found += [by_pitch[midi] for midi in sorted(by_pitch)]
    for before, after in pairwise(found):
        length = before.end - before.start
        overlap = before.end - after.start
        if after.start > before.start and overlap > close and overlap * 2 > length:
            beats = Fraction(after.start, file.resolution)
            raise MidiFileError(
                f"two notes sound together at beat {float(beats) + 1:g}",
                hint="notes of a chord begin together: export the melody, or a strummed part, alone",
            )
    return found


def _bars(file: pretty_midi.PrettyMIDI, end: int) -> list[tuple[int, Meter]]:
    """Onset in ticks and meter of each bar that begins before ``end``; a meter holds from the bar line
    on that it stands at, or that comes next."""
    changes = [
        (file.time_to_tick(one.time), Meter(one.numerator, one.denominator))
        for one in file.time_signature_changes
    ]
    meter, at = Meter(4, 4), 0
    found: list[tuple[int, Meter]] = []
    while at < end or not found:
        if len(found) > MAX_BARS:
            raise MidiFileError(
                f"the phrase lasts more than {MAX_BARS} bars",
                hint=f"at most {MAX_BARS} are read: cut the rests out",
            )
        while changes and changes[0][0] <= at:
            meter = changes.pop(0)[1]
        found.append((at, meter))
        at += max(1, int(meter.bar_beats * file.resolution))
    return found


def _key(file: pretty_midi.PrettyMIDI) -> Key:
    changes = file.key_signature_changes
    if not changes:
        return Key(NoteName.parse("C"))
    number = changes[0].key_number
    if number < 12:
        return Key(NoteName.parse(_MAJOR_KEYS[number]), "major")
    return Key(NoteName.parse(_MINOR_KEYS[number - 12]), "minor")


def _tempo(file: pretty_midi.PrettyMIDI) -> TempoMap:
    _, tempos = file.get_tempo_changes()
    return TempoMap.constant(Fraction(float(tempos[0])).limit_denominator(100))


def _written(heard: Sequence[_Heard], offset: int, resolution: int, key: Key) -> list[Note]:
    """Notes on the grid, each lasting until the next begins where the gap is small."""
    onsets = [_on_grid(Fraction(note.start - offset, resolution)) for note in heard]
    notes = []
    for index, (note, onset) in enumerate(zip(heard, onsets, strict=True)):
        later = (i for i in range(index + 1, len(heard)) if heard[i].start > note.start)
        following = next((onsets[i] for i in later), None)
        if following is not None and following <= onset:
            raise MidiFileError(
                f"the notes around beat {float(onset) + 1:g} are too close together to be written",
                hint="set the phrase on a grid of sixteenths or triplets before exporting it",
            )
        end = _on_grid(Fraction(note.end - offset, resolution))
        if following is not None and (end > following or following - end <= Fraction(1, 3)):
            end = following
        if end <= onset:
            end = onset + Fraction(1, 4) if following is None else following
        notes.append(Note(onset, end - onset, key.spell(note.midi), max(1, note.velocity)))
    return notes


def _on_grid(beats: Fraction) -> Fraction:
    """The nearest time on one of the grids; between equals the coarser place."""
    choices = [Fraction(round_half_up(beats * grid), grid) for grid in GRIDS]
    return min(choices, key=lambda choice: (abs(choice - beats), choice.denominator))


def _timeline(notes: Sequence[Note], meters: Sequence[Meter], key: Key, tempo: TempoMap) -> Timeline:
    """As many bars as the notes need; the last meter goes on where they are set later by the grid."""
    end = max(note.written_end_beats for note in notes)
    bars: list[Bar] = []
    at = Fraction(0)
    while at < end or not bars:
        number = len(bars) + 1
        meter = meters[min(number, len(meters)) - 1]
        bars.append(Bar(number, number, 1, at, meter, ""))
        at = bars[-1].end_beats
    return Timeline(
        key=key,
        tempo=tempo,
        bars=tuple(bars),
        chords=tuple(ChordSpan(bar.onset_beats, bar.length_beats, None) for bar in bars),
        sections=(SectionSpan(Fraction(0), at, "", 1),),
    )
