"""How much a band varies over 96 bars, and how steady it stays: measured on the notes.

The form is 32 bars with one chord a bar, three times, so that no rhythm comes from chords that change
inside a bar. A rhythm is the set of onsets inside a bar. Of the drums only the time layer counts, in
bars without a fill and without a section's crash: what keeps time there is told by the voices.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Iterable
from dataclasses import dataclass

from genex.band import play_band
from genex.band.kit import VOICES
from genex.score import Part, Timeline
from tests.band.charts import GROOVES, for_groove, notes_by_bar

PHRASE = "C | C | Am7 | Am7 | Dm7 | G7 | C | C"
SECTION_BARS, SECTIONS, CHORUSES = 8, 4, 3
TIME_KEEPERS = frozenset(
    VOICES[name].key
    for name in VOICES
    if name.startswith(("ride", "closed hi", "open hi", "pedal hi", "brush", "cowbell", "tambourine"))
    or name
    in ("cabasa", "maracas", "second ride", "short guiro", "long guiro", "low agogo", "high agogo")
)
BRUSHES = frozenset(VOICES[name].key for name in VOICES if name.startswith("brush"))


@dataclass(frozen=True)
class Variety:
    """Distinct bars of a part, and the share of bars that are like the section's commonest one."""

    distinct: int
    steady: float


def form(name: str) -> Timeline:
    """96 bars in a feel's meter and usual tempo."""
    chart = " | ".join([PHRASE] * SECTIONS)
    return for_groove(name, chart, choruses=CHORUSES, sections=(SECTION_BARS,) * SECTIONS)


def variety(name: str, seed: int = 1) -> dict[str, Variety]:
    """For bass, comping and time layer of a feel."""
    groove, line = GROOVES[name], form(name)
    played = {part.name: part for part in play_band(line, groove, seed=seed)}
    found = {
        part: _measured(_rhythms(played[part], line)) for part in ("bass", "comping") if part in played
    }
    if groove.drums is not None:
        found["time"] = _measured(_time_layer(played["drums"], line, groove.drums.kit))
    return found


def _rhythms(part: Part, line: Timeline) -> list[tuple[int, Hashable]]:
    """For each bar its section and its onsets."""
    inside = notes_by_bar(part, line)
    return [
        (index // SECTION_BARS, frozenset(n.onset_beats - bar.onset_beats for n in inside[bar.number]))
        for index, bar in enumerate(line.bars)
    ]


def _time_layer(part: Part, line: Timeline, kit: str) -> list[tuple[int, Hashable]]:
    inside = notes_by_bar(part, line)
    keepers = TIME_KEEPERS if kit == "brush" else TIME_KEEPERS - BRUSHES
    return [
        (
            index // SECTION_BARS,
            frozenset(
                (n.midi, n.onset_beats - bar.onset_beats)
                for n in inside[bar.number]
                if n.midi in keepers
            ),
        )
        for index, bar in enumerate(line.bars)
        if index % SECTION_BARS and (index + 1) % 4
    ]


def _measured(bars: Iterable[tuple[int, Hashable]]) -> Variety:
    bars = list(bars)
    sections: dict[int, Counter[Hashable]] = {}
    for section, rhythm in bars:
        sections.setdefault(section, Counter())[rhythm] += 1
    common = sum(counted.most_common(1)[0][1] for counted in sections.values())
    return Variety(len({rhythm for _, rhythm in bars}), common / len(bars))


def table(names: Iterable[str]) -> list[str]:
    """A line a feel: distinct bars and share of the commonest, of bass, comping and time layer."""
    lines = ["feel              bass         comping      time"]
    for name in names:
        found = variety(name)
        cells = [found.get(part) for part in ("bass", "comping", "time")]
        text = "".join(f"{c.distinct:4} {c.steady:.2f}    " if c else " " * 13 for c in cells)
        lines.append(f"{name:16}{text}".rstrip())
    return lines
