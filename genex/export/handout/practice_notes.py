"""Practice notes that follow from the score: where the hand is, what to listen for, tempos.

Everything here is read off the notes and chords; nothing is advice of a general kind.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from genex.exact import Fraction
from genex.export.typography import with_signs
from genex.fretboard import HandMove
from genex.score import ChordSpan, Part, Score, Timeline
from genex.theory import Chord, Degree
from genex.units import round_half_up

MOST_CHANGES = 8
"""Changes that are listed to listen for; more would be a second chart."""

MOST_BARS = 6
SLOWEST = Fraction(3, 5)
"""The first tempo of the ladder, as a share of the tempo of the piece."""


@dataclass(frozen=True, slots=True)
class Ear:
    """A change worth listening for: the bars it leads into, the two chords and what moves."""

    bars: str
    chords: str
    what: str


def hand_sentences(part: Part, timeline: Timeline, words: Mapping[str, str]) -> list[str]:
    """Where a part lies on the neck and what the hand does, in phrases without a full stop."""
    fretted = [(note, note.fretting) for note in part.notes if note.fretting is not None]
    if not fretted:
        return []
    stopped = [place.fret for _, place in fretted if place.fret > 0] or [0]
    low, high = min(stopped), max(stopped)
    told = [words["one_fret" if low == high else "frets"].format(low=low, high=high)]
    positions = Counter(
        place.fret - place.finger + 1 for _, place in fretted if place.finger and place.fret > 0
    )
    if positions:
        most = max(positions.values())
        told.append(
            words["mostly_at"].format(position=min(p for p, n in positions.items() if n == most))
        )
    note, place = fretted[0]
    key = "start_finger" if place.fret > 0 and place.finger else "start_open"
    if place.fret == 0 or place.finger:
        start = words[key].format(
            finger=place.finger,
            string=place.string,
            fret=place.fret,
            note=with_signs(str(note.pitch.name)),
        )
        told.append(words["begin"].format(start=start))
    shifts = [timeline.bar_at(n.onset_beats).number for n, p in fretted if p.move is HandMove.SHIFT]
    rolls = [timeline.bar_at(n.onset_beats).number for n, p in fretted if p.move is HandMove.ROLL]
    told.append(_happens("hand_shifts", shifts, words) if shifts else words["hand_stays"])
    if rolls:
        told.append(_happens("rolls", rolls, words))
    return told


def _happens(key: str, numbers: Sequence[int], words: Mapping[str, str]) -> str:
    bars = list(dict.fromkeys(numbers))
    if len(bars) <= MOST_BARS:
        return words[key].format(bars=bars_text(bars, words))
    return words[f"{key}_often"].format(count=len(numbers), bars=bars_text(bars[:3], words))


def bars_text(numbers: Sequence[int], words: Mapping[str, str]) -> str:
    """``bar 3``, ``bars 3, 7 and 12``."""
    if len(numbers) == 1:
        return words["bar"].format(bars=numbers[0])
    listed = ", ".join(map(str, numbers[:-1])) + f" {words['and']} {numbers[-1]}"
    return words["bars"].format(bars=listed)


def ears(timeline: Timeline, words: Mapping[str, str]) -> list[Ear]:
    """The changes to listen for, in order of the chart, each once with its bars of the first chorus."""
    found: dict[tuple[str, str], tuple[str, list[int]]] = {}
    for before, after in _changes(timeline):
        if before.chord is None or after.chord is None or before.chord.same_as(after.chord):
            continue
        what = _movement(before.chord, after.chord, words)
        bar = timeline.bar_at(after.onset_beats)
        if what is None or bar.chorus > 1:
            continue
        pair = (before.chord.symbol, after.chord.symbol)
        bars = found.setdefault(pair, (what, []))[1]
        if bar.number not in bars:
            bars.append(bar.number)
    listed = list(found.items())[:MOST_CHANGES]
    return [
        Ear(
            ", ".join(map(str, sorted(bars)[:MOST_BARS])),
            f"{with_signs(a)} – {with_signs(b)}",
            what,
        )
        for (a, b), (what, bars) in listed
    ]


def _changes(timeline: Timeline) -> Iterator[tuple[ChordSpan, ChordSpan]]:
    spans = timeline.merged_chords
    if len(spans) > 1:
        yield from timeline.changes()


def _movement(before: Chord, after: Chord, words: Mapping[str, str]) -> str | None:
    """How a guide tone leads from chord to chord: the seventh into the third first of all.

    In ii-V-I the seventh of each chord falls by step to the third of the next [common practice].
    """
    pairs = [(a, b) for a in reversed(before.guide_tones) for b in after.guide_tones]
    wanted = {1: "falls_half", 2: "falls_whole", 0: "stays", 11: "rises_half", 10: "rises_whole"}
    ranked = []
    for rank, (a, b) in enumerate(pairs):
        down = (before.root.degree(a).pitch_class - after.root.degree(b).pitch_class) % 12
        if down in wanted:
            ranked.append((list(wanted).index(down), rank, down, a, b))
    if not ranked:
        return None
    *_, down, a, b = min(ranked, key=lambda row: row[:2])
    return words[wanted[down]].format(
        a=_name(before, a), b=_name(after, b), degree_a=with_signs(str(a)), degree_b=with_signs(str(b))
    )


def _name(chord: Chord, degree: Degree) -> str:
    return with_signs(str(chord.root.degree(degree)))


def tempo_ladder(score: Score, steps: int) -> list[int]:
    """Whole metronome numbers from three fifths of the tempo to the tempo, evenly spaced."""
    tempo = score.tempo.changes[0].pulses(score.timeline.meter)
    if steps <= 0:
        return []
    if steps == 1:
        return [round_half_up(tempo)]
    shares = [SLOWEST + (1 - SLOWEST) * Fraction(index, steps - 1) for index in range(steps)]
    return list(dict.fromkeys(max(1, round_half_up(tempo * share)) for share in shares))
