"""Measures as written notes: values, ties, beams, tuplet brackets and accidentals.

Rules are those of common engraving practice: beams join what belongs to one beat (two beats of
plain eighths in 4/4), a tuplet is complete when its notes add up to a plain value, and an
accidental holds to the end of its bar.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from itertools import pairwise

from genex.exact import Fraction
from genex.export.metric_values import values_at
from genex.export.page_bars import Event, Measure
from genex.score import COMMON_TIME, Note, NoteValue
from genex.theory import STEPS, Key


@dataclass
class Written:
    """One written note, chord or rest.

    onset_beats      from the start of the piece
    value            None for a whole-bar rest and for lengths that no note value has
    is_start         the notes are struck here (False for what is tied to the one before)
    tie_start, tie_stop  a tie leads away from it, or to it
    beams            ``begin``, ``continue``, ``end``, ``forward hook`` or ``backward hook`` a level
    tuplet_start, tuplet_stop  a bracket begins or ends here
    accidentals      alteration to print beside each note, None for none
    reminders        of each note whether that only reminds: the rules would do without it
    """

    onset_beats: Fraction
    duration_beats: Fraction
    value: NoteValue | None
    event: Event
    is_start: bool = True
    tie_start: bool = False
    tie_stop: bool = False
    beams: tuple[str, ...] = ()
    tuplet_start: bool = False
    tuplet_stop: bool = False
    accidentals: tuple[int | None, ...] = field(default=())
    reminders: tuple[bool, ...] = field(default=())

    @property
    def notes(self) -> tuple[Note, ...]:
        return self.event.notes

    @property
    def is_rest(self) -> bool:
        return not self.event.notes


def written_measure(measure: Measure, key: Key) -> list[Written]:
    """A measure as it is written."""
    row = [piece for event in measure.events for piece in _pieces(event, measure)]
    _set_tuplets(row)
    _set_beams(row, measure)
    _set_accidentals(row, key)
    return row


def _pieces(event: Event, measure: Measure) -> Iterator[Written]:
    """An event as values tied together that show the beats of its bar."""
    if event.fills_bar:
        yield Written(event.onset_beats, event.duration_beats, None, event)
        return
    bar = measure.bar
    values: Sequence[NoteValue | None] = values_at(
        event.onset_beats - bar.counted_from, event.duration_beats, bar.meter
    )
    if not values:
        values = (None,)
    at = event.onset_beats
    for index, value in enumerate(values):
        length = value.beats if value else event.duration_beats
        first, last = index == 0, index == len(values) - 1
        yield Written(
            at,
            length,
            value,
            event,
            is_start=first and not event.tied_from,
            tie_start=bool(event.notes) and (not last or event.tied_to),
            tie_stop=bool(event.notes) and (not first or event.tied_from),
        )
        at += length


def _set_tuplets(row: Sequence[Written]) -> None:
    """Brackets from the first note of a tuplet to the one that completes a plain value."""
    current = 1
    total = Fraction(0)
    before: Written | None = None
    for written in row:
        tuplet = written.value.tuplet if written.value else 1
        if tuplet != current:
            if current > 1 and before is not None:
                before.tuplet_stop = True
            current, total = tuplet, Fraction(0)
        if tuplet > 1:
            written.tuplet_start = total == 0
            total += written.duration_beats
            if total.denominator % tuplet:
                written.tuplet_stop = True
                current, total = 1, Fraction(0)
        before = written
    if current > 1 and before is not None:
        before.tuplet_stop = True


def _beam_levels(written: Written) -> int:
    """How many beams a note has: one for an eighth, two for a sixteenth."""
    if written.is_rest or written.value is None:
        return 0
    levels, length = 0, Fraction(1)
    while length > written.value.base.beats:
        levels, length = levels + 1, length / 2
    return levels


def _set_beams(row: Sequence[Written], measure: Measure) -> None:
    for group in _beam_groups(row, measure):
        levels = [_beam_levels(written) for written in group]
        for index, written in enumerate(group):
            found = []
            for level in range(1, levels[index] + 1):
                joins_before = index > 0 and levels[index - 1] >= level
                joins_after = index + 1 < len(group) and levels[index + 1] >= level
                if joins_before and joins_after:
                    found.append("continue")
                elif joins_before:
                    found.append("end")
                elif joins_after:
                    found.append("begin")
                else:
                    found.append("backward hook" if index else "forward hook")
            written.beams = tuple(found)


def _beam_groups(row: Sequence[Written], measure: Measure) -> Iterator[list[Written]]:
    """Runs of at least two beamed notes that lie within one window of the meter."""
    start = measure.bar.counted_from
    for first, last in pairwise(_windows(row, measure)):
        group: list[Written] = []
        for written in row:
            if not first <= written.onset_beats - start < last:
                continue
            if _beam_levels(written):
                group.append(written)
                continue
            if len(group) > 1:
                yield group
            group = []
        if len(group) > 1:
            yield group


def _windows(row: Sequence[Written], measure: Measure) -> list[Fraction]:
    """Times in the bar at which beams break."""
    meter = measure.bar.meter
    if meter.unit >= 8:
        return [*meter.groups, meter.bar_beats]
    edges = [*meter.pulses, meter.bar_beats]
    if meter != COMMON_TIME:
        return edges
    kept = [edges[0]]
    for half in (Fraction(0), Fraction(2)):
        inside = [w for w in row if half <= w.onset_beats - measure.bar.counted_from < half + 2]
        plain = all(_beam_levels(w) < 2 and not (w.value and w.value.tuplet > 1) for w in inside)
        kept += [half + 2] if plain else [half + 1, half + 2]
    return kept


def _set_accidentals(row: Sequence[Written], key: Key) -> None:
    signature = {name.step: name.alter for name in _signature(key)}
    in_force: dict[tuple[int, int], int] = {}
    for written in row:
        shown: list[int | None] = []
        for note in written.notes:
            name, octave = note.pitch.name, note.pitch.octave
            place = (name.step, octave)
            now = in_force.get(place, signature.get(name.step, 0))
            is_new = written.is_start and now != name.alter
            shown.append(name.alter if is_new else None)
            if written.is_start:
                in_force[place] = name.alter
        written.accidentals = tuple(shown)
        written.reminders = (False,) * len(shown)


def add_courtesy_accidentals(rows: Sequence[Sequence[Written]]) -> None:
    """Accidentals that remind, in the measures of a page, in their order.

    A step that was altered otherwise in the bar before, or in another octave of the same bar, has its
    accidental once more where it comes first; so has one after a note tied over from there
    [common practice: courtesy accidentals, also called cautionary].
    """
    before: dict[int, set[int]] = {}
    for row in rows:
        here: dict[int, set[int]] = {}
        told: set[tuple[int, int]] = set()
        for written in row:
            shown, reminders = list(written.accidentals), list(written.reminders)
            for index, note in enumerate(written.notes):
                step, alter = note.pitch.name.step, note.pitch.name.alter
                place = step, note.pitch.octave
                heard = before.get(step, set()) | here.get(step, set())
                if written.is_start and shown[index] is None and place not in told and heard - {alter}:
                    shown[index], reminders[index] = alter, True
                if written.is_start:
                    told.add(place)
                here.setdefault(step, set()).add(alter)
            written.accidentals, written.reminders = tuple(shown), tuple(reminders)
        before = here


def _signature(key: Key) -> list[_Altered]:
    order = "FCGDAEB" if key.fifths > 0 else "BEADGCF"
    alter = 1 if key.fifths > 0 else -1
    return [_Altered(STEPS.index(letter), alter) for letter in order[: abs(key.fifths)]]


@dataclass(frozen=True, slots=True)
class _Altered:
    """A step that the key signature alters."""

    step: int
    alter: int
