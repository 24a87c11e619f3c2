"""What the asking commands answer: chords, shapes, feels, and tab of a MIDI file."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

from genex.band import all_grooves
from genex.errors import InputError
from genex.export.diagrams import DiagramStyle, Direction, Spacing, Theme, sheet_svg, svg_to_png
from genex.export.grip_diagrams import GripStyle, grips_svg
from genex.export.grip_text import grips_text
from genex.export.neck_marks import Label
from genex.export.neck_text import shapes_text
from genex.export.tab import tab_text
from genex.fretboard import (
    Hand,
    Shape,
    Tuning,
    finger_everywhere,
    grips_of,
    read_fingerings,
    shape,
    shapes,
    shapes_as_json,
    tuning,
    unplayable_roots,
    written_shape,
)
from genex.publishing.files import write_file
from genex.readers.midi_file import read_phrase
from genex.score import Score
from genex.theory import Chord, Key, Place, analyse, describe, find_scale, parse_chord, scales_for

Json = dict[str, Any]


def key_named(text: str | None) -> Key | None:
    """The key of an option, None where it is not given. Raises NotationError."""
    return None if text is None else Key.parse(text)


def chord_answer(symbol: str, key: Key | None = None) -> Json:
    """Everything about a chord symbol, and what it is in a key, if one is given.

    Raises ChordSymbolError.
    """
    chord = parse_chord(symbol)
    described = describe(chord)
    return {
        "symbol": chord.symbol,
        "root": str(chord.root),
        "bass": str(chord.bass),
        "notes": [str(note) for note in chord.notes],
        "degrees": [str(degree) for degree in chord.degrees],
        "guide_tones": [str(chord.root.degree(degree)) for degree in chord.guide_tones],
        "names": list(described.names),
        "also_written": list(described.also_written),
        "scales": [
            {"name": scale.name, "notes": [str(note) for note in scale.notes(chord.root)]}
            for scale in scales_for(chord, key)
        ],
        **({} if key is None else {"in_key": _in_key(chord, key)}),
    }


def _in_key(chord: Chord, key: Key) -> Json:
    """What a chord by itself is in a key."""
    (reading,) = analyse([Place(chord)], key, closed=False).readings
    return {
        "key": str(key),
        "numeral": reading.numeral,
        "function": reading.function,
        "scale": None if reading.scale is None else reading.scale.name,
        "reason": reading.reason,
    }


def chord_text(answer: Json) -> str:
    """A chord's answer for reading."""
    guide = [
        f"{note} ({degree})"
        for note in answer["guide_tones"]
        for degree in [answer["degrees"][answer["notes"].index(note)]]
    ]
    columns = [max(len(n), len(d)) for n, d in zip(answer["notes"], answer["degrees"], strict=True)]

    def row(values: Sequence[str]) -> str:
        return "  ".join(
            f"{value:<{width}}" for value, width in zip(values, columns, strict=True)
        ).rstrip()

    lines = [
        f"{answer['symbol']}: {answer['root']} {answer['names'][0]}",
        f"  notes        {row(answer['notes'])}",
        f"  degrees      {row(answer['degrees'])}",
        f"  guide tones  {', '.join(guide)}",
    ]
    if answer["bass"] != answer["root"]:
        lines.append(f"  bass         {answer['bass']}")
    if len(answer["names"]) > 1:
        lines.append(f"  also called  {', '.join(answer['names'][1:])}")
    if answer["also_written"]:
        lines.append(f"  also written {', '.join(answer['also_written'])}")
    if "in_key" in answer:
        place = answer["in_key"]
        function = f", {place['function']}" if place["function"] else ""
        lines.append(f"  in {place['key']:<9} {place['numeral']}{function}: {place['scale']}")
    for index, scale in enumerate(answer["scales"]):
        head = "scales" if index == 0 else ""
        lines.append(f"  {head:<12} {scale['name']}: {' '.join(scale['notes'])}")
    return "\n".join(lines)


def feels_answer() -> list[Json]:
    """Every feel that comes with genex."""
    return [
        {
            "name": groove.name,
            "title": groove.title,
            "about": groove.description,
            "meters": [str(meter) for meter in groove.meters],
            "tempo": {
                "from": groove.tempo_low,
                "to": groove.tempo_high,
                "usual": groove.tempo_usual,
            },
            "parts": list(groove.parts),
        }
        for groove in all_grooves()
    ]


def feels_text(answer: Sequence[Json]) -> str:
    """Feels as a table: name, meters, tempos, what it is."""
    rows = [
        (
            feel["name"],
            " ".join(feel["meters"]) or "any",
            f"{feel['tempo']['from']:g} to {feel['tempo']['to']:g}",
            feel["title"],
        )
        for feel in answer
    ]
    widths = [max(len(row[column]) for row in rows) for column in range(3)]
    return "\n".join(
        "  ".join((*(f"{cell:<{width}}" for cell, width in zip(row, widths, strict=False)), row[3]))
        for row in rows
    )


@dataclass(frozen=True)
class ShapesRequest:
    """What ``genex shapes`` is asked for. ``scale`` shows a scale on the chord's root instead.

    ``closed`` leaves the open form out; without ``in_thirds`` ninths and more are not stacked.
    """

    chord: str
    form: str | None = None
    scale: str | None = None
    tuning: str = "standard"
    frets: int | None = None
    capo: int = 0
    hand: str = "medium"
    closed: bool = False
    in_thirds: bool = True
    fingerings: Path | None = None

    @cached_property
    def neck(self) -> Tuning:
        """The instrument, with the player's own shapes. Raises FretboardError."""
        neck = tuning(self.tuning, frets=self.frets, capo=self.capo, hand=Hand[self.hand.upper()])
        if self.fingerings is None:
            return neck
        return read_fingerings(self.fingerings).on(neck)

    def notes(self) -> list[str]:
        """What is worth saying: own shapes of this chord that some roots cannot have."""
        degrees = frozenset(parse_chord(self.chord).degrees)
        found = []
        for own in self.neck.own:
            roots = unplayable_roots(own, self.neck) if own.degrees == degrees else ()
            if roots:
                names = ", ".join(map(str, roots))
                found.append(f"your shape '{own.form}' does not lie on this neck for {names}")
        return found

    @cached_property
    def title(self) -> str:
        """The chord's symbol, or the scale with its root."""
        chord = parse_chord(self.chord)
        return f"{chord.root} {find_scale(self.scale)}" if self.scale else chord.symbol

    def shapes(self) -> tuple[Shape, ...]:
        """The shapes asked for. Raises InputError."""
        chord = parse_chord(self.chord)
        degrees = find_scale(self.scale).degrees if self.scale else chord.degrees
        if self.form is not None:
            found = shape(degrees, chord.root, self.neck, self.form, in_thirds=self.in_thirds)
            return (found,)
        return shapes(
            degrees,
            chord.root,
            self.neck,
            in_thirds=self.in_thirds,
            with_open=not self.closed and self.scale is None,
        )


def shapes_answer(request: ShapesRequest) -> Json:
    """Shapes with their notes and practice paths as data."""
    return shapes_as_json(request.title, request.shapes())


def shapes_page(request: ShapesRequest, *, label: Label, left_handed: bool, width: int) -> str:
    """Shapes as diagrams in text, under a line with the chord."""
    found = request.shapes()
    text = shapes_text(found, request.neck, label=label, left_handed=left_handed, width=width)
    return f"{request.title}, {request.neck} tuning\n\n{text}".rstrip("\n")


def grips_answer(request: ShapesRequest) -> Json:
    """Grips with strings, frets, fingers and barres as data."""
    found = grips_of(parse_chord(request.chord), request.neck)
    return {"chord": request.title, "grips": [grip.as_json() for grip in found]}


def grips_page(request: ShapesRequest, *, left_handed: bool) -> str:
    """Grips as vertical diagrams, under a line with the chord."""
    found = grips_of(parse_chord(request.chord), request.neck)
    text = grips_text(found, request.neck, left_handed=left_handed)
    return f"{request.title}, {request.neck} tuning\n\n{text}".rstrip("\n")


def shapes_written(request: ShapesRequest) -> str:
    """Shapes in the text of a file of fingerings, to start one from."""
    return "\n".join(written_shape(request.title, found) for found in request.shapes())


@dataclass(frozen=True)
class Drawing:
    """How a picture of shapes or grips is drawn."""

    label: Label = "degrees"
    left_handed: bool = False
    theme: Theme = "light"
    spacing: Spacing = "even"
    direction: Direction = "lying"


def shapes_picture(request: ShapesRequest, path: Path, drawn: Drawing) -> None:
    """Write the shapes as one picture, SVG or PNG by the name of the file. Raises InputError."""
    _require_picture(path)
    second: Label = "degrees" if drawn.label == "fingers" else "fingers"
    style = DiagramStyle(
        drawn.label, second, drawn.theme, drawn.spacing, drawn.left_handed, direction=drawn.direction
    )
    _write_picture(path, sheet_svg(request.title, request.shapes(), request.neck, style))


def grips_picture(request: ShapesRequest, path: Path, drawn: Drawing) -> None:
    """Write the grips as one picture of vertical diagrams, SVG or PNG. Raises InputError.

    Their discs hold fingers; the label, if it is another, stands below the strings.
    """
    _require_picture(path)
    below: Label = "none" if drawn.label == "fingers" else drawn.label
    style = GripStyle(below, drawn.theme, drawn.left_handed)
    chord = parse_chord(request.chord)
    _write_picture(path, grips_svg(chord, grips_of(chord, request.neck), request.neck, style))


def _require_picture(path: Path) -> None:
    if path.suffix.lower() not in (".svg", ".png"):
        raise InputError(f"'{path}' is not a picture's name", hint="end it in .svg or .png")


def _write_picture(path: Path, svg: str) -> None:
    write_file(path, svg_to_png(svg) if path.suffix.lower() == ".png" else svg.encode())


def read_midi(
    path: Path,
    *,
    tuning_name: str,
    capo: int,
    hand: str,
    position: int | None,
    track: int | None,
) -> Score:
    """The phrase in a MIDI file, fingered in the best place on the neck or in a position."""
    neck = tuning(tuning_name, capo=capo, hand=Hand[hand.upper()])
    return read_phrase(path, neck, track=track, position=position)


def position_note(score: Score, position: int, *, tuning_name: str, capo: int, hand: str) -> str | None:
    """One line where a phrase does not lie under the hand in the position asked for, or None.

    The four fingers hold the frets from the position to three above it; open strings need no hand.
    """
    neck = tuning(tuning_name, capo=capo, hand=Hand[hand.upper()])
    (part,) = score.parts
    frets = [note.fretting.fret for note in part.notes if note.fretting is not None]
    outside = sum(not _under_hand(fret, position) for fret in frets)
    if not outside:
        return None
    homes = [
        str(home)
        for home, line in finger_everywhere([note.midi for note in part.notes], neck)
        if all(_under_hand(note.fret, home) for note in line)
    ]
    others = f"; without a shift it lies in position {', '.join(homes)}" if homes else ""
    return (
        f"note: position {position} holds frets {position} to {position + 3}, and for {outside} of the "
        f"{len(frets)} notes the hand shifts{others}"
    )


def _under_hand(fret: int, position: int) -> bool:
    return fret == 0 or position <= fret <= position + 3


def phrase_tab(score: Score, width: int) -> str:
    """A phrase as tab."""
    return tab_text(score, width=width)


def phrase_answer(score: Score) -> Json:
    """A phrase as data: bar and beat (from 1), length, pitch, string, fret, finger and move."""
    (part,) = score.parts
    notes = []
    for note in part.notes:
        bar = score.timeline.bar_at(note.onset_beats)
        fretting = note.fretting
        notes.append(
            {
                "bar": bar.number,
                "beat": float(note.onset_beats - bar.onset_beats) + 1,
                "length_beats": float(note.duration_beats),
                "pitch": str(note.pitch),
                **(
                    {}
                    if fretting is None
                    else {
                        "string": fretting.string,
                        "fret": fretting.fret,
                        "finger": fretting.finger,
                        "move": fretting.move.value,
                    }
                ),
            }
        )
    return {
        "title": score.title,
        "key": str(score.timeline.key),
        "meter": str(score.timeline.meter),
        "strings": [str(pitch) for pitch in part.strings],
        "capo": part.capo,
        "notes": notes,
    }
