"""Small scores for the exporter tests."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from fractions import Fraction

from genex.score import (
    PUSH_BEATS,
    PUSH_SIGN,
    Bar,
    ChordSpan,
    Fretting,
    LeadIn,
    Meter,
    Mix,
    Note,
    Part,
    Role,
    Score,
    SectionSpan,
    Slide,
    TempoMap,
    Timeline,
)
from genex.theory import Key, Pitch, parse_chord

GUITAR = tuple(Pitch.parse(text) for text in "E4 B3 G3 D3 A2 E2".split())


def beats(value: object) -> Fraction:
    return Fraction(str(value))


def timeline(
    chart: str = "Gm7 | C7 | Fmaj7 | N.C.",
    *,
    key: str = "F",
    tempo: object = 120,
    meter: str = "4/4",
    sections: Sequence[tuple[str, int]] = (),
    tempo_map: TempoMap | None = None,
) -> Timeline:
    """A timeline from bars of chord symbols; ``<C`` is pushed; ``sections`` are names with their length
    in bars."""
    of_bar = Meter.parse(meter)
    rows = [row.split() for row in chart.strip().strip("|").split("|")]
    named = sections or (("A", len(rows)),)
    names = [name for name, count in named for _ in range(count)]
    bars, chords, spans = [], [], []
    at = Fraction(0)
    for number, (row, name) in enumerate(zip(rows, names, strict=True), start=1):
        bars.append(Bar(number, number, 1, at, of_bar, name))
        for index, symbol in enumerate(row):
            length = of_bar.bar_beats / len(row)
            plain = symbol.removeprefix(PUSH_SIGN)
            chord = None if symbol == "N.C." else parse_chord(plain)
            push = PUSH_BEATS if plain != symbol else Fraction(0)
            chords.append(ChordSpan(at + index * length, length, chord, push_beats=push))
        at += of_bar.bar_beats
    at = Fraction(0)
    for name, count in named:
        spans.append(SectionSpan(at, count * of_bar.bar_beats, name, 1))
        at += count * of_bar.bar_beats
    changes = tempo_map or TempoMap.constant(beats(tempo))
    return Timeline(Key.parse(key), changes, tuple(bars), tuple(chords), tuple(spans))


def fretted(
    onset: object, duration: object, string: int, fret: int, finger: int | None = None, **more: object
) -> Note:
    """A note at a place on a guitar in standard tuning."""
    pitch = Pitch.from_midi(GUITAR[string - 1].midi + fret, flats=True)
    place = Fretting(string, fret, finger)
    return Note(beats(onset), beats(duration), pitch, fretting=place, **more)  # type: ignore[arg-type]


def lead(notes: Iterable[Note], name: str = "exercise", **more: object) -> Part:
    return Part.of(name, Role.EXERCISE, 26, notes, strings=GUITAR, **more)  # type: ignore[arg-type]


def drums(*onsets: object, key: int = 51, name: str = "drums", program: int = 32) -> Part:
    notes = [Note(beats(onset), Fraction(1, 4), Pitch.from_midi(key)) for onset in onsets]
    return Part.of(name, Role.DRUMS, program, notes)


def count_in(length: int = 4) -> LeadIn:
    notes = [Note(Fraction(at), Fraction(1, 4), Pitch.from_midi(76)) for at in range(length)]
    return LeadIn(Fraction(length), Part.of("count-in", Role.CLICK, 0, notes))


def small_score(**more: object) -> Score:
    """Four bars with a line that slides, drums and a bass."""
    line = [
        fretted(0, 1, 4, 5, 3),
        fretted(1, "1/2", 3, 3, 1, slide=Slide(-2, Fraction(1, 4))),
        fretted("3/2", "1/2", 3, 5, 3),
        fretted(2, 2, 2, 5, 3),
        fretted(4, "1/3", 2, 8, 4),
        fretted("13/3", "1/3", 2, 5, 1),
        fretted("14/3", "1/3", 3, 5, 1),
        fretted(6, 4, 4, 5, 3),
    ]
    bass = [Note(Fraction(at), Fraction(1), Pitch.parse("G2"), 90) for at in range(16)]
    parts = (
        lead(line, mix=Mix(level_db=-4.0, pan=-0.5)),
        Part.of("bass", Role.BASS, 32, bass),
        drums(*range(16)),
    )
    return Score("Lamps on the Canal", "swing", timeline(**more), parts, count_in())  # type: ignore[arg-type]
