"""A lick typed over one chord, moved to another one: degree for degree, in the same rhythm.

The third becomes the third, whatever third the other chord has, a scale tone the tone of that number in
the other chord's scale, a seventh or a sixth what the chord has there. A note that belongs to neither
chord nor scale and stands a half or whole step before one that does leads into what has become of that,
from as far; one that leads nowhere passes as far from the note before it [common practice: a motif
taken through the changes].
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from genex.lines.ladders import degree_over, leading_note, spell
from genex.score import Note
from genex.theory import Chord, Degree, Pitch, Scale

_LEADS_SEMITONES = 2


def moved_lick(
    notes: Sequence[Note], source: tuple[Chord, Scale], target: tuple[Chord, Scale], octaves: int = 0
) -> tuple[Note, ...]:
    """The notes over the target's chord, its root the shorter way from the source's, and ``octaves``.

    Frettings are left out. Notes struck together move each by itself.
    """
    (old, old_scale), (new, new_scale) = source, target
    shift = (new.root.pitch_class - old.root.pitch_class + 5) % 12 - 5 + 12 * octaves
    if old.symbol == new.symbol and not octaves:
        return tuple(replace(note, degree=_degree(old, note), fretting=None) for note in notes)
    found: list[Note] = []
    passing: list[int] = []  # foreign notes that lead nowhere, counted from the end
    led: tuple[Note, Pitch] | None = None  # the note that comes next, and what has become of it
    for note in reversed(notes):
        degree = degree_over(old.root, note.pitch.name)
        own = _home(degree, old, old_scale)
        if own is None and led is not None and abs(led[0].midi - note.midi) in (1, _LEADS_SEMITONES):
            pitch, over = leading_note(led[1], note.midi - led[0].midi, new, new_scale)
        else:
            if own is None:
                passing.append(len(found))
            was_tone = old.degree_of(note.midi) is not None
            over = _counterpart(degree, own, new, new_scale, was_tone=was_tone)
            midi = note.midi - degree.semitones + shift + over.semitones
            pitch = spell(new.root.degree(over), midi)
        moved = replace(note, pitch=pitch, degree=over, fretting=None)
        led = note, pitch
        found.append(moved)
    found.reverse()
    for index in sorted(len(notes) - 1 - place for place in passing):
        if index and 0 < abs(away := notes[index].midi - notes[index - 1].midi) <= _LEADS_SEMITONES:
            found[index] = _passed(found[index], found[index - 1].midi + away, new)
    return tuple(found)


def _degree(chord: Chord, note: Note) -> Degree:
    return chord.degree_of(note.midi) or degree_over(chord.root, note.pitch.name)


def _home(degree: Degree, chord: Chord, scale: Scale) -> Degree | None:
    """A degree as the chord or its scale has it, by sound; None for one that is foreign to both."""
    own = [*(tone.simple for tone in chord.degrees), *scale.degrees]
    return next((one for one in own if one.semitones % 12 == degree.semitones % 12), None)


def _passed(note: Note, midi: int, chord: Chord) -> Note:
    """A passing note at another height, on the letter that it has over the chord."""
    assert note.degree is not None
    number = note.degree.simple.number
    plain = chord.root.degree(Degree(number)).pitch_class
    degree = Degree(number, (midi - plain + 6) % 12 - 6)
    return replace(note, pitch=spell(chord.root.degree(degree), midi), degree=degree)


def _counterpart(
    degree: Degree, own: Degree | None, chord: Chord, scale: Scale, *, was_tone: bool
) -> Degree:
    """What a degree is over another chord: there as many letters above the root."""
    if own is None:
        return degree
    number = degree.number
    tones = [tone.simple for tone in chord.degrees]
    # For the third of a suspended chord, the seventh of a sixth chord what the chord has in its place.
    instead = {3: (4, 2), 7: (6,), 6: (7,)}.get(number, ()) if was_tone else ()
    ranked = [
        [tone for tone in tones if tone.number == number],
        [tone for other in instead for tone in tones if tone.number == other],
        [tone for tone in scale.degrees if tone.number == number],
        [degree],
    ]
    return next(found[0] for found in ranked if found)
