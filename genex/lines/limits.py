"""What may be played in an improvising task: a few notes, chord tones, or the scale, in a place.

Of three or five notes those are chosen that suit the chart: neighbours of the key's pentatonic, of
which as many chords as can be have one among their own, and which clash with none [common practice].
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass, replace

from genex.errors import LineError
from genex.exact import Fraction
from genex.exercises.models.improvising import Improvise
from genex.fretboard.tunings import places
from genex.lines.ladders import chord_tones, degree_over, pitch_in_scale, spell
from genex.lines.placement import Hold
from genex.lines.study_plan import Place
from genex.lines.vocabulary import Kind, Vocabulary, is_blues
from genex.said import Said
from genex.score import Timeline
from genex.theory import Chord, Degree, NoteName, Pitch, Scale, distinct_chords, find_scale

COUNTS = {"three": 3, "five": 5}
_CLASH = 100
"""Cost of a note that the scale of a chord does not have, in shares of the form."""


@dataclass(frozen=True)
class Limited(Vocabulary):
    """A vocabulary of given pitches, whatever the chord: ``allowed`` are all there is.

    On strong beats come chord tones where there are two at least; elsewhere every note is free.
    ``names`` spells the pitch classes; with ``strict`` only chord tones are played at all.
    """

    names: tuple[NoteName, ...] = ()
    strict: bool = False

    def chord_tones(self, chord: Chord) -> tuple[int, ...]:
        """The allowed chord tones; where there is none, all that is allowed."""
        return chord_tones(chord, self.allowed) or self.allowed

    def candidates(
        self,
        chord: Chord,
        chord_scale: Scale,
        *,
        weak: bool,
        off: bool,
        wanted: Collection[Kind] = (),
    ) -> list[tuple[int, Kind]]:
        tones = self.chord_tones(chord)
        # One tone alone would be struck over and over.
        free = not self.strict and (weak or len(tones) < 2)
        return [(midi, Kind.CHORD) for midi in (self.allowed if free else tones)]

    def name(
        self, chord: Chord, scale: Scale, midi: int, kind: Kind, target: Pitch | None
    ) -> tuple[Pitch, Degree]:
        own = next((name for name in self.names if name.pitch_class == midi % 12), None)
        if own is None:
            return pitch_in_scale(chord, scale, midi)
        degree = chord.degree_of(midi)
        return spell(own, midi), degree or degree_over(chord.root, own)


def limited(
    timeline: Timeline, hold: Hold, exercise: Improvise
) -> tuple[Hold, Vocabulary, tuple[tuple[str, tuple[Place, ...]], ...]]:
    """The hold within the limits, what is played there, and the necks to show.

    Raises LineError where the place has no room for the notes.
    """
    if exercise.tones is None and exercise.notes == "scale":
        names = tuple(timeline.key.tonic.degree(degree) for degree in timeline.key.degrees)
        classes = {name.pitch_class for name in names}
        midis = tuple(midi for midi in hold.allowed if midi % 12 in classes)
        return (
            replace(hold, allowed=midis),
            _limited(midis, names),
            (_neck(midis, names, timeline, hold),),
        )
    if exercise.tones is None and exercise.notes == "chord tones":
        vocabulary = _limited(hold.allowed, (), strict=True)
        chords = distinct_chords(s.chord for s in timeline.chords if s.chord is not None)
        necks = tuple((Said("{chord}", chord=chord), _over(chord, hold)) for chord in chords)
        return hold, vocabulary, necks
    names = _own(exercise) if exercise.tones is not None else _suiting(timeline)
    midis = _neighbours(timeline, hold, names, COUNTS.get(exercise.notes, 3), exercise)
    kept = tuple(dict.fromkeys(_name_of(midi, names) for midi in midis))
    inside = replace(hold, allowed=midis)
    return inside, _limited(midis, kept), (_neck(midis, kept, timeline, hold),)


def _neck(
    midis: Sequence[int], names: Sequence[NoteName], timeline: Timeline, hold: Hold
) -> tuple[str, tuple[Place, ...]]:
    """Where the notes lie, with their degrees in the key."""
    found = []
    for midi in midis:
        name = _name_of(midi, names)
        found.append(Place(*place_of(midi, hold), name, degree_over(timeline.key.tonic, name)))
    return "", tuple(found)


def _limited(midis: tuple[int, ...], names: tuple[NoteName, ...], *, strict: bool = False) -> Limited:
    # Level 2 asks for no foreign notes: what is allowed says it all.
    return Limited(2, midis, midis[len(midis) // 2], names=names, strict=strict)


def _own(exercise: Improvise) -> tuple[NoteName, ...]:
    return tuple(NoteName.parse(tone) for tone in exercise.tones or ())


def _suiting(timeline: Timeline) -> tuple[NoteName, ...]:
    """The key's pentatonic; the minor one also over a blues in major."""
    key = timeline.key
    is_minor = key.plain_mode == "minor" or is_blues(timeline)
    scale = find_scale("minor pentatonic" if is_minor else "major pentatonic")
    return tuple(key.tonic.degree(degree) for degree in scale.degrees)


def _name_of(midi: int, names: Iterable[NoteName]) -> NoteName:
    return next(name for name in names if name.pitch_class == midi % 12)


def _neighbours(
    timeline: Timeline, hold: Hold, names: Sequence[NoteName], count: int, exercise: Improvise
) -> tuple[int, ...]:
    """Pitches side by side among those of some names: all of one's own notes once, else as many as
    wished, those that suit most of the form, as near to the middle of the place as can be."""
    classes = {name.pitch_class for name in names}
    count = len(classes) if exercise.tones is not None else count
    ladder = [midi for midi in hold.allowed if midi % 12 in classes]
    groups = [tuple(ladder[at : at + count]) for at in range(len(ladder) - count + 1)]
    groups = [group for group in groups if len({midi % 12 for midi in group}) == count]
    if not groups:
        told = " ".join(map(str, names))
        raise LineError(
            f"{hold} has no room for {count} notes of {told}",
            hint="choose another position, more strings or other notes",
        )
    # In a position rather high, as a melody lies; along strings where the frets are wide enough.
    share = Fraction(3, 5) if hold.position is not None else Fraction(2, 5)
    middle = hold.allowed[int(len(hold.allowed) * share)]

    def order(group: tuple[int, ...]) -> tuple[Fraction, int, int]:
        return _misfit(timeline, group), group[-1] - group[0], abs(group[count // 2] - middle)

    return min(groups, key=order)


def _misfit(timeline: Timeline, group: Sequence[int]) -> Fraction:
    """Beats in which a chord has none of the notes, and far more for notes that clash with it; more
    also for a group without the key note. In a blues nothing clashes."""
    home = timeline.key.tonic.pitch_class
    cost = Fraction(0) if any(midi % 12 == home for midi in group) else timeline.length_beats / 4
    clash = 0 if is_blues(timeline) else _CLASH
    for span, reading in zip(timeline.chords, timeline.readings, strict=True):
        if reading.chord is None or reading.scale is None:
            continue
        at_home = reading.scale.pitch_classes(reading.chord.root) | reading.chord.pitch_classes
        cost += span.length_beats * (not any(m % 12 in reading.chord.pitch_classes for m in group))
        cost += span.length_beats * clash * sum(midi % 12 not in at_home for midi in group)
    return cost


def _over(chord: Chord, hold: Hold) -> tuple[Place, ...]:
    """The chord tones in a hold."""
    degrees = ((midi, chord.degree_of(midi)) for midi in chord_tones(chord, hold.allowed))
    return tuple(
        Place(*place_of(midi, hold), chord.root.degree(degree), degree)
        for midi, degree in degrees
        if degree is not None
    )


def place_of(midi: int, hold: Hold) -> tuple[int, int]:
    """String and fret of a note in a hold: on its strings, under the four fingers if it can be."""
    position = hold.position or 1

    def away(fret: int) -> int:
        return max(position - fret, fret - position - 3, 0)

    on = [
        (place.string, place.fret)
        for place in places(hold.tuning, midi)
        if hold.strings is None or place.string in hold.strings
    ]
    return min(on, key=lambda place: (away(place[1]), place[1]))
