"""Small necks on a sheet: the shape in use where a chord begins, and how guide tones resolve.

Shapes are read off the notes that are played: the one that holds most of them. The moves of guide
tones are those of the chords, laid where the exercise plays them.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import product
from typing import Any

from genex.export.handout.settings import HandoutSettings
from genex.export.handout.system_breaks import Line
from genex.export.neck_text import shape_heading
from genex.export.neck_window import Dot, Form, Window, neck_window
from genex.export.note_names import chord_name
from genex.export.phrases import words
from genex.export.repeat_signs import PageBar
from genex.export.spoken import chord_in_words, signs_in_words
from genex.export.typography import with_signs
from genex.export.xml_measures import fresh_onsets, printed_chords
from genex.fretboard import Shape, Tuning, chord_shapes
from genex.score import ChordSpan, Part, Score, Timeline
from genex.theory import Chord, Degree, smallest_leading

_NARROWEST_MM = 11.0
"""A smaller neck could not be read."""

_WIDEST_MM = 24.0
_GAP_MM = 1.5


def shape_in_use(span: ChordSpan, part: Part, shapes: Sequence[Shape]) -> Shape | None:
    """The shape that holds most of a part's notes over a chord, of two alike the nearer one.

    None where none holds half of them.
    """
    places = [
        (note.fretting.string, note.fretting.fret)
        for note in part.notes
        if note.fretting is not None and span.onset_beats <= note.onset_beats < span.end_beats
    ]
    if not places or not shapes:
        return None
    centre = sum(fret for _, fret in places) / len(places)

    def worth(shape: Shape) -> tuple[int, float]:
        own = {(note.string, note.fret) for note in shape.notes}
        middle = sum(note.fret for note in shape.notes) / len(shape.notes)
        return sum(place in own for place in places), -abs(middle - centre)

    best = max(shapes, key=worth)
    return best if 2 * worth(best)[0] >= len(places) else None


def with_windows(
    lines: Sequence[Line],
    part: Part,
    timeline: Timeline,
    page: Sequence[PageBar],
    tuning: Tuning,
    *,
    left_handed: bool,
    language: str = "en",
) -> list[list[dict[str, Any]]]:
    """For each system its windows, each once a sheet: picture, place from the left, size."""
    fresh = fresh_onsets(timeline, page)
    printed = [printed_chords(timeline, entry.bar, fresh) for entry in page]
    phrases = words(language)
    shown: set[tuple[str, str, int]] = set()
    found = []
    first = 0
    for line in lines:
        spans = [span for bar in printed[first : first + line.system.bars] for span in bar]
        first += line.system.bars
        lefts = [left for left, _ in line.system.symbols]
        row = []
        free_from = 0.0
        if len(spans) == len(lefts):
            for index, (span, left) in enumerate(zip(spans, lefts, strict=True)):
                window = _window(span, part, tuning, left_handed, language)
                if window is None or span.chord is None:
                    continue
                shape, picture = window
                key = span.chord.symbol, shape.form, shape.position
                after = lefts[index + 1] if index + 1 < len(lefts) else line.system.width_mm
                room = min(after - left - _GAP_MM, line.system.width_mm - left, _WIDEST_MM)
                if key in shown or room < _NARROWEST_MM or left < free_from:
                    continue
                shown.add(key)
                told = chord_in_words(span.chord, phrases)
                scale = min(1.0, room / picture.width_mm)
                free_from = left + picture.width_mm * scale + _GAP_MM
                row.append(
                    {
                        "svg": picture.svg,
                        "left_mm": left,
                        "width_mm": picture.width_mm * scale,
                        "height_mm": picture.height_mm * scale,
                        "alt": f"{told}: {shape_heading(shape, language)}",
                    }
                )
        found.append(row)
    return found


def _window(
    span: ChordSpan, part: Part, tuning: Tuning, left_handed: bool, language: str
) -> tuple[Shape, Window] | None:
    if span.chord is None or tuple(part.strings) != tuple(tuning.strings):
        return None
    shape = shape_in_use(span, part, _shapes(span.chord, tuning))
    if shape is None:
        return None
    dots = [Dot(note.string, note.fret, _form(span.chord, note.degree)) for note in shape.notes]
    title = f"{chord_name(span.chord, words(language))}, {shape.form}"
    picture = neck_window(dots, len(tuning.strings), left_handed=left_handed, title=title)
    return shape, picture


def _form(chord: Chord, degree: Degree) -> Form:
    if degree == Degree(1):
        return "root"
    return "guide" if degree in chord.guide_tones else "tone"


@lru_cache(maxsize=64)
def _shapes(chord: Chord, tuning: Tuning) -> tuple[Shape, ...]:
    return tuple(chord_shapes(chord, tuning))


@dataclass(frozen=True, slots=True)
class Resolution:
    """How the guide tones of a chord go to those of the next.

    moves  for each voice its degree before and after, and the frets that it goes: 0 stays
    """

    chords: tuple[Chord, Chord]
    moves: tuple[tuple[Degree, Degree, int], ...]
    picture: Window

    def moves_text(self, phrases: Mapping[str, str]) -> list[str]:
        """``♭7 to 3, one fret down``, a voice each."""
        told = []
        for degree, other, step in self.moves:
            key = "voice_stays" if step == 0 else "voice_down" if step < 0 else "voice_up"
            frets = phrases["frets_one" if abs(step) == 1 else "frets_more"].format(count=abs(step))
            a, b = with_signs(str(degree)), with_signs(str(other))
            told.append(phrases[key].format(a=a, b=b, frets=frets))
        return told

    def in_words(self, phrases: Mapping[str, str]) -> str:
        """The chords and the moves, for who does not see the picture."""
        chords = phrases["say_to"].join(chord_in_words(chord, phrases) for chord in self.chords)
        return f"{chords}: {signs_in_words('; '.join(self.moves_text(phrases)), phrases)}"


_FARTHEST = 2
"""Semitones that a guide tone goes to resolve [common practice]: farther it would be a leap."""


MOST_CARDS = 6
"""Changes that are drawn; more would push the lesson off its sheet."""


def resolutions(score: Score, parts: Sequence[Part], settings: HandoutSettings) -> list[Resolution]:
    """The first changes of the chart that differ, drawn where the first fretted line plays them."""
    line = next((part for part in parts if part.strings == settings.tuning.strings), None)
    if line is None or len(score.timeline.merged_chords) < 2:
        return []
    found: dict[tuple[str, str], Resolution] = {}
    for before, after in score.timeline.changes():
        if before.chord is None or after.chord is None or before.chord.same_as(after.chord):
            continue
        name = before.chord.symbol, after.chord.symbol
        if name not in found and len(found) < MOST_CARDS:
            made = resolution(
                before,
                after,
                line,
                settings.tuning,
                left_handed=settings.left_handed,
                language=settings.language,
            )
            if made is not None:
                found[name] = made
    return list(found.values())


def resolution(
    before: ChordSpan,
    after: ChordSpan,
    part: Part,
    tuning: Tuning,
    *,
    left_handed: bool,
    language: str = "en",
) -> Resolution | None:
    """The picture of one change, where the part plays the first chord; None without guide tones."""
    old, new = before.chord, after.chord
    if old is None or new is None or not old.guide_tones or not new.guide_tones:
        return None
    pairs = _voices(old, new)
    if not pairs:
        return None
    near = [
        note.fretting.fret
        for note in part.notes
        if note.fretting is not None and before.onset_beats <= note.onset_beats < after.end_beats
    ]
    centre = sum(near) / len(near) if near else 5.0
    best: tuple[float, tuple[tuple[Dot, Dot], ...]] | None = None
    options = [
        list(_ways(old.root.degree(degree).pitch_class, step, tuning, centre))
        for degree, _, step in pairs
    ]
    for chosen in product(*options):
        starts = [start for start, _ in chosen]
        if len({dot.string for dot in starts}) < len(starts):
            continue
        ends = [end for _, end in chosen]
        if len({dot.string for dot in ends}) < len(ends):
            continue
        frets = [dot.fret for dot in (*starts, *ends)]
        strings = [dot.string for dot in (*starts, *ends)]
        cost = (
            3.0 * (max(frets) - min(frets))
            + abs(sum(frets) / len(frets) - centre)
            + sum(4.0 * abs(a.string - b.string) for a, b in chosen)
            + (max(strings) - min(strings))
            + 0.01 * sum(strings)
        )
        if best is None or cost < best[0]:
            best = cost, chosen
    if best is None:
        return None
    dots: list[Dot] = []
    moves = []
    for start, end in best[1]:
        if (start.string, start.fret) == (end.string, end.fret):
            dots.append(Dot(start.string, start.fret, "stays"))
        else:
            dots += [start, end]
            moves.append((start, end))
    phrases = words(language)
    told = phrases["say_to"].join((chord_name(old, phrases), chord_name(new, phrases)))
    picture = neck_window(dots, len(tuning.strings), moves=moves, left_handed=left_handed, title=told)
    return Resolution((old, new), tuple(pairs), picture)


def _voices(old: Chord, new: Chord) -> list[tuple[Degree, Degree, int]]:
    """The guide tones of the smallest voice leading that go by step or stay: from, to, semitones."""
    before = {old.root.degree(degree).pitch_class: degree for degree in old.guide_tones}
    after = {new.root.degree(degree).pitch_class: degree for degree in new.guide_tones}
    moves = {move.source: move for move in smallest_leading(list(before), list(after)).moves}
    return [
        (degree, after[move.target], move.semitones)
        for pitch, degree in before.items()
        if abs((move := moves[pitch]).semitones) <= _FARTHEST
    ]


def _ways(pitch_class: int, step: int, tuning: Tuning, centre: float) -> Iterator[tuple[Dot, Dot]]:
    """Places near the hand where a voice may lie, with that of the tone so many semitones on."""
    for string, midi in enumerate(tuning.open_midi, start=1):
        for fret in range(max(0, int(centre) - 4), min(tuning.last_fret, int(centre) + 6)):
            if (midi + fret) % 12 != pitch_class:
                continue
            for target, open_midi in enumerate(tuning.open_midi, start=1):
                there = midi + fret + step - open_midi
                if abs(target - string) <= 1 and 0 <= there <= tuning.last_fret:
                    yield Dot(string, fret, "goes"), Dot(target, there, "comes")
