"""A passage of the line in one row of text, for answer keys: its bars, its chords, its rhythm.

Rhythms are the note values that tab writes over the strings, bar by bar: ``q. e h``.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass

from genex.exact import Fraction
from genex.export.notation import written_measure
from genex.export.note_names import namer
from genex.export.page_bars import measures
from genex.score import BASE_VALUES, Score


@dataclass(frozen=True, slots=True)
class Passage:
    """Some bars in words.

    bars    ``bar 3`` or ``bars 3-4``
    chords  ``Gm7 | C7 Fmaj7``
    rhythm  ``q. e h | r q h``, of the first lead part
    values  the letters of note values that stand in the rhythm
    """

    bars: str
    chords: str
    rhythm: str
    values: tuple[str, ...]


def passage(
    score: Score, onset_beats: Fraction, length_beats: Fraction, phrases: Mapping[str, str]
) -> Passage:
    """The bars from a bar line on, as many as lie within the length."""
    timeline, named = score.timeline, namer(phrases)
    own = [m for m in measures(score.lead_parts[0], timeline)
           if onset_beats <= m.bar.onset_beats < onset_beats + length_beats]  # fmt: skip
    first, last = own[0].bar.number, own[-1].bar.number
    rows = [written_measure(measure, timeline.key) for measure in own]
    rhythm = []
    for row in rows:
        told = []
        for written in row:
            letters = "" if written.value is None else written.value.letters
            told.append(f"r{letters}" if written.is_rest else f"{'~' * written.tie_stop}{letters}")
        rhythm.append(" ".join(told))
    told_as = "bar" if first == last else "bars"
    return Passage(
        phrases[told_as].format(bars=first if first == last else f"{first}-{last}"),
        " | ".join(
            " ".join(timeline.chord_label(span, named) for span in timeline.chords_in(m.bar))
            for m in own
        ),
        " | ".join(rhythm),
        tuple(w.value.base.letter for row in rows for w in row if w.value is not None),
    )


def value_legend(letters: Collection[str], phrases: Mapping[str, str]) -> str:
    """What letters of note values mean, the longest first: ``q quarter, e eighth``."""
    return ", ".join(f"{b.letter} {phrases[b.type_name]}" for b in BASE_VALUES if b.letter in letters)
