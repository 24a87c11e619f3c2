"""Practice notes that follow from the score: where the hand is, what to listen for, tempos.

Everything here is read off the notes and chords; nothing is advice of a general kind.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby

from genex.exact import Fraction
from genex.export.note_names import chord_name, note_name
from genex.export.typography import with_signs
from genex.fretboard import HandMove
from genex.score import ChordSpan, Note, Part, Role, Score, Timeline
from genex.theory import Chord, Degree
from genex.units import round_half_up

MOST_CHANGES = 8
"""Changes that are listed to listen for; more would be a second chart."""

MOST_BARS = 6
_LONGEST_GAP = Fraction(1, 2)
"""Over a longer rest nobody hears a line resolve."""
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
            note=with_signs(note_name(note.pitch.name, words)),
        )
        told.append(words["begin"].format(start=start))
    shifts, rolls = (
        [timeline.bar_at(onset).number for onset in onsets]
        for onsets in (
            dict.fromkeys(n.onset_beats for n, p in fretted if p.move is move)
            for move in (HandMove.SHIFT, HandMove.ROLL)
        )
    )
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


def ears(parts: Iterable[Part], timeline: Timeline, words: Mapping[str, str]) -> list[Ear]:
    """The changes to listen for, in order of the chart, each once with its bars of the first chorus.

    They are read off the parts that are printed: off the guide lines, or where there is none off the
    other lines wherever one comes by step to a guide tone of the new chord as that chord begins.
    """
    lead = [part for part in parts if part.notes]
    guides = [part for part in lead if part.role is Role.GUIDE]
    voices = [voice for part in guides or lead for voice in _voices(part)]
    found: dict[tuple[str, str, str], list[int]] = {}
    for before, after in timeline.changes() if len(timeline.merged_chords) > 1 else ():
        if before.chord is None or after.chord is None or before.chord.same_as(after.chord):
            continue
        moves = [_move(voice, before, after) for voice in voices]
        steps = [move for move in moves if move and (guides or _resolves(move))]
        bar = timeline.bar_at(after.onset_beats)
        if not steps or bar.chorus > 1:
            continue
        what = _told(min(steps, key=lambda move: _WORTH.index(move.semitones)), words)
        named = chord_name(before.chord, words), chord_name(after.chord, words)
        bars = found.setdefault((*named, what), [])
        if bar.number not in bars:
            bars.append(bar.number)
    listed = list(found.items())[:MOST_CHANGES]
    return [
        Ear(
            ", ".join(map(str, sorted(bars)[:MOST_BARS])),
            f"{with_signs(a)} – {with_signs(b)}",
            what,
        )
        for (a, b, what), bars in listed
    ]


_MOVES = {-1: "falls_half", -2: "falls_whole", 0: "stays", 1: "rises_half", 2: "rises_whole"}
_WORTH = tuple(_MOVES)
"""Moves by what is heard best: of two voices the one that falls by a half step is told."""


@dataclass(frozen=True, slots=True)
class _Move:
    """How a voice goes over a change: the two chords, and note and degree over each of them."""

    chords: tuple[Chord, Chord]
    notes: tuple[Note, Note]
    degrees: tuple[Degree, Degree]
    is_on_time: bool

    @property
    def semitones(self) -> int:
        return self.notes[1].midi - self.notes[0].midi


def _voices(part: Part) -> list[list[Note]]:
    """The voices of a part, the highest first: several where notes are struck together."""
    struck = [list(group) for _, group in groupby(part.notes, key=lambda note: note.onset_beats)]
    ranked = [sorted(notes, key=lambda note: -note.midi) for notes in struck]
    count = max(map(len, ranked))
    return [[notes[voice] for notes in ranked if voice < len(notes)] for voice in range(count)]


def _move(voice: Sequence[Note], before: ChordSpan, after: ChordSpan) -> _Move | None:
    """The step, or the held note, that leads from chord to chord; None where there is neither."""
    start = after.onset_beats
    index = next((i for i, note in enumerate(voice) if note.written_end_beats > start), None)
    if index is None or before.chord is None or after.chord is None:
        return None
    new = voice[index]
    is_early = new.onset_beats < start
    if is_early and new.degree == before.chord.degree_of(new.midi):
        old = new  # held over the change
    elif index == 0 and start > 0:
        return None
    else:
        old = voice[index - 1]  # over the loop's seam the last one
    degrees = old.degree, after.chord.degree_of(new.midi)
    is_over = new.onset_beats < after.end_beats and old.written_end_beats > before.onset_beats
    if not is_over or new.midi - old.midi not in _MOVES or degrees[0] is None or degrees[1] is None:
        return None
    gap = new.onset_beats - old.written_end_beats if start else Fraction(0)
    is_on_time = new.onset_beats <= start and gap <= _LONGEST_GAP
    return _Move((before.chord, after.chord), (old, new), (degrees[0], degrees[1]), is_on_time)


def _resolves(move: _Move) -> bool:
    """Whether a line that is no guide line makes the change heard."""
    old, new = move.chords
    arrives = move.is_on_time and move.degrees[1] in new.guide_tones
    return arrives and (move.semitones != 0 or move.degrees[0] in old.guide_tones)


def _told(move: _Move, words: Mapping[str, str]) -> str:
    (a, b), (degree_a, degree_b) = move.notes, move.degrees
    return words[_MOVES[move.semitones]].format(
        a=with_signs(note_name(a.pitch.name, words)),
        b=with_signs(note_name(b.pitch.name, words)),
        degree_a=with_signs(str(degree_a)),
        degree_b=with_signs(str(degree_b)),
    )


def tempo_ladder(score: Score, steps: int) -> list[int]:
    """Whole metronome numbers from three fifths of the tempo to the tempo, evenly spaced.

    A lesson that gets faster by itself has its ladder: the tempos that it goes through.
    """
    meter = score.timeline.meter
    tempo = score.tempo.changes[0].mark(meter)
    if steps <= 0:
        return []
    played = list(dict.fromkeys(round_half_up(change.mark(meter)) for change in score.tempo.changes))
    if len(played) > 1:
        return played
    if steps == 1:
        return [round_half_up(tempo)]
    shares = [SLOWEST + (1 - SLOWEST) * Fraction(index, steps - 1) for index in range(steps)]
    return list(dict.fromkeys(max(1, round_half_up(tempo * share)) for share in shares))
