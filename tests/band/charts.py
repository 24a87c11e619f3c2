"""Timelines from one-line charts, and random progressions, for the band's tests."""

from __future__ import annotations

from fractions import Fraction

from hypothesis import strategies as st

from genex.band import all_grooves
from genex.score import Bar, ChordSpan, Meter, Note, Part, SectionSpan, TempoMap, Timeline
from genex.theory import Key, NoteName, Place, Reading, analyse, parse_chord
from genex.theory.key import all_keys

F = Fraction

TUNES = {
    "blues": ("F", "F7 | Bb7 | F7 | F7 | Bb7 | Bdim7 | F7 | D7b9 | Gm7 | C7 | F7 D7 | Gm7 C7"),
    "cycle": ("C", "Dm7 | G7 | Cmaj7 | Cmaj7 | Cm7 | F7 | Bbmaj7 | Bbmaj7 | Am7b5 | D7b9 | Gm6 | Gm6"),
    "minor": ("G minor", "Gm7 | Cm7 | F7 | Bbmaj7 | Ebmaj7 | Am7b5 | D7b9 | Gm7"),
    "pop": ("G", "G | D/F# | Em | C | G | D | Em7 | C"),
    "vamp": ("D minor", "Dm7 | Dm7 | Dm7 | Dm7 | Ebm7 | Ebm7 | Dm7 | Dm7"),
}
FUNCTIONAL = ("blues", "cycle", "minor", "pop")
QUALITIES = (
    "",
    "m",
    "7",
    "m7",
    "maj7",
    "6",
    "m6",
    "m7b5",
    "dim7",
    "7b9",
    "9",
    "13",
    "7#11",
    "sus4",
    "7alt",
)


def timeline(
    chart: str,
    *,
    key: str = "C",
    tempo: float = 120,
    meter: str = "4/4",
    choruses: int = 1,
    sections: tuple[int, ...] = (),
) -> Timeline:
    """A timeline from ``Dm7 | G7 | Cmaj7``; ``-`` is no chord; ``sections`` are lengths in bars."""
    signature = Meter.parse(meter)
    rows = [bar.split() for bar in chart.strip().strip("|").split("|")]
    lengths = sections or (len(rows),)
    names = [chr(ord("A") + number) for number, length in enumerate(lengths) for _ in range(length)]
    bars: list[Bar] = []
    chords: list[ChordSpan] = []
    spans: list[SectionSpan] = []
    onset = F(0)
    for chorus in range(1, choruses + 1):
        for number, length in enumerate(lengths):
            name = chr(ord("A") + number)
            spans.append(
                SectionSpan(
                    spans[-1].end_beats if spans else F(0), length * signature.bar_beats, name, chorus
                )
            )
        for index, row in enumerate(rows):
            bars.append(Bar(len(bars) + 1, index + 1, chorus, onset, signature, names[index]))
            share = signature.bar_beats / len(row)
            for symbol in row:
                chords.append(ChordSpan(onset, share, None if symbol == "-" else parse_chord(symbol)))
                onset += share
    quarter = F(tempo).limit_denominator(1000) * signature.pulse_beats
    return Timeline(Key.parse(key), TempoMap.constant(quarter), tuple(bars), tuple(chords), tuple(spans))


def reading(symbol: str, key: Key | str = "C") -> Reading:
    """A chord by itself, read in a key."""
    home = Key.parse(key) if isinstance(key, str) else key
    return analyse([Place(parse_chord(symbol))], home, closed=False).readings[0]


def tune(name: str, **changes: object) -> Timeline:
    """One of ``TUNES`` as a timeline."""
    key, chart = TUNES[name]
    return timeline(chart, **{"key": key, **changes})  # type: ignore[arg-type]


def for_groove(name: str, chart: str, **changes: object) -> Timeline:
    """A chart in the first meter and the usual tempo of a feel."""
    groove = GROOVES[name]
    meter = str(groove.meters[0]) if groove.meters else "4/4"
    return timeline(chart, **{"meter": meter, "tempo": groove.tempo_usual, **changes})  # type: ignore[arg-type]


GROOVES = {groove.name: groove for groove in all_grooves()}

keys = st.sampled_from(all_keys())
symbols = st.builds(
    lambda root, quality: f"{root}{quality}",
    st.sampled_from([str(NoteName.parse(name)) for name in "C Db D Eb E F F# G Ab A Bb B".split()]),
    st.sampled_from(QUALITIES),
)
chart_bars = st.one_of(symbols, symbols, st.builds(lambda a, b: f"{a} {b}", symbols, symbols))
charts = st.lists(chart_bars, min_size=2, max_size=8).map(" | ".join)


def notes_by_bar(part: Part, line: Timeline) -> dict[int, list[Note]]:
    """The notes of a part that begin in each bar, by bar number."""
    found: dict[int, list[Note]] = {bar.number: [] for bar in line.bars}
    for note in part.notes:
        found[line.bar_at(note.onset_beats).number].append(note)
    return found
