"""What the asking commands answer: chords, shapes, feels, and tab of a MIDI file."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from genex.band import all_grooves
from genex.export.tab import tab_text
from genex.fretboard import tuning
from genex.lines.midi_phrase import read_phrase
from genex.theory import Chord, Key, describe, parse_chord, scales_for

Json = dict[str, Any]


def chord_answer(symbol: str, key: Key | None = None) -> Json:
    """Everything about a chord symbol. Raises ChordSymbolError."""
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
    for index, scale in enumerate(answer["scales"]):
        head = "scales" if index == 0 else ""
        lines.append(f"  {head:<12} {scale['name']}: {' '.join(scale['notes'])}")
    return "\n".join(lines)


def read_chords(symbols: Sequence[str]) -> list[Chord]:
    """Chords of symbols. Raises ChordSymbolError."""
    return [parse_chord(symbol) for symbol in symbols]


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


def midi_tab(
    path: Path,
    *,
    tuning_name: str,
    capo: int,
    position: int | None,
    track: int | None,
    width: int,
) -> str:
    """Tab of the phrase in a MIDI file, in the best place on the neck or in a position."""
    score = read_phrase(path, tuning(tuning_name, capo=capo), track=track, position=position)
    return tab_text(score, width=width)
