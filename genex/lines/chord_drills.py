"""Drills of several chords, or of how one is laid out: progressions, bass lines, inversions."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from random import Random

from genex.errors import LineError, NotationError
from genex.exercises import Player
from genex.exercises.models.asking import Drill
from genex.lines.drill_track import Question, drill_track
from genex.lines.study_plan import Choice, StudyPlan
from genex.said import Row, Said
from genex.score import Timeline
from genex.theory import (
    Chord,
    Degree,
    Key,
    NoteName,
    Pitch,
    chord_from_numeral,
    parse_chord,
    smoothest_path,
)

PROGRESSIONS = {
    "major": ("I IV V I", "I vi ii V", "ii7 V7 Imaj7", "I V vi IV", "I IV I V"),
    "minor": ("i iv V i", "i bVI bVII i", "iim7b5 V7 im7", "i bVII bVI V", "i iv i V"),
}
"""Roman numerals asked for unless others are chosen, by mode."""

CADENCES = {"major": "I IV V I", "minor": "i iv V i"}
"""What sets a key [common practice]."""

INVERSIONS = ("root position", "first inversion", "second inversion", "third inversion")
"""By the number of the tone that lies lowest. A triad has the first three."""
TRIADS, SEVENTH_CHORDS = ("", "m"), ("7", "maj7", "m7")
"""Qualities whose inversions are asked for: triads, and seventh chords where one is the third."""

BASS_HARMONY: Mapping[str, Mapping[str, str]] = {
    mode: dict(pair.split(":") for pair in row.split())
    for mode, row in {
        "major": "1:I 2:V 3:I 4:IV 5:V b6:bVI 6:vi b7:bVII 7:V",
        "minor": "1:i 2:V b3:i 4:iv 5:V b6:bVI 6:IV b7:bVII 7:V",
    }.items()
}
"""The chord over each bass degree, by mode, in whatever inversion that makes
[common practice: the rule of the octave, in triads]."""
BASS_LINES = {
    "major": ("1 4 5 1", "1 7 6 5", "1 2 3 4", "1 3 4 5", "1 6 4 5"),
    "minor": ("1 4 5 1", "1 b7 b6 5", "1 2 b3 4", "1 b3 4 5", "1 b6 4 5"),
}
"""Bass lines asked for unless others are chosen, by mode."""

LOWEST_CHORD_MIDI = 52
"""Close chords lie from E3 up, where thirds are still clear [common practice]."""


_MAJOR_ROOTS = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
_MINOR_ROOTS = ("C", "C#", "D", "Eb", "E", "F", "F#", "G", "G#", "A", "Bb", "B")
INVERTED_ROOTS = {
    "": _MAJOR_ROOTS,
    "7": _MAJOR_ROOTS,
    "maj7": ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B"),
    "m": _MINOR_ROOTS,
    "m7": _MINOR_ROOTS,
}
"""Roots of chords whose inversions are asked for, by quality, as they are mostly written: C#m and not
Dbm, whose third would be Fb [common practice]."""
LOWEST_BASS_MIDI, BASS_HOME_MIDI, HIGHEST_BASS_MIDI = 38, 45, 50
"""A bass line lies between D2 and D3, below all chords, and begins near A2."""


def progression_drill(timeline: Timeline, exercise: Drill, player: Player) -> StudyPlan:
    """Write down the progression. Raises LineError for what is not a Roman numeral."""
    key = timeline.key
    items = exercise.items if exercise.items is not None else PROGRESSIONS[key.plain_mode]
    for item in items:
        _progression(item, key)

    def question(item: str, allowed: Sequence[int], rng: Random) -> Question:
        chords = _progression(item, key)
        voicings = smoothest_path([_close_voicings(chord) for chord in chords])
        roots = tuple(_near_middle(chord.root, allowed) for chord in chords)
        text = Said("{item}: {chords}", item=item, chords=Row(chords))
        return Question(text, asked_chords=tuple(voicings), confirmed=roots, again=True)

    return drill_track(
        "progression", Said("Which progression?"), items, question, timeline, exercise, player,
        choices=_written_down(items),
    )  # fmt: skip


def bass_drill(timeline: Timeline, exercise: Drill, player: Player) -> StudyPlan:
    """Write down the bass line. Raises LineError for a degree that has no chord here."""
    key = timeline.key
    items = exercise.items if exercise.items is not None else BASS_LINES[key.plain_mode]
    for item in items:
        _bass_degrees(item, key)

    def question(item: str, allowed: Sequence[int], rng: Random) -> Question:
        degrees = _bass_degrees(item, key)
        harmony = BASS_HARMONY[key.plain_mode]
        chords = [chord_from_numeral(harmony[str(degree)], key) for degree in degrees]
        bass = _bass_line([key.tonic.degree(degree) for degree in degrees])
        upper = smoothest_path([_close_voicings(chord) for chord in chords])
        struck = tuple((low, *above) for low, above in zip(bass, upper, strict=True))
        up = 12 if all(pitch.midi + 12 in allowed for pitch in bass) else 0
        shown = [pitch.name.at_or_above(pitch.midi + up) for pitch in bass]
        if any(pitch.midi not in allowed for pitch in shown):
            shown = [_near_middle(pitch.name, allowed) for pitch in bass]
        return Question(
            Said("{item}: {notes}", item=item, notes=Row(pitch.name for pitch in bass)),
            asked_chords=struck,
            confirmed=tuple(shown),
            again=True,
            root=key.tonic,
        )

    return drill_track(
        "bass", Said("Which bass line?"), items, question, timeline, exercise, player,
        choices=_written_down(items),
    )  # fmt: skip


def inversion_drill(timeline: Timeline, exercise: Drill, player: Player) -> StudyPlan:
    """Name the inversion. Raises LineError for what is none."""
    items = exercise.items if exercise.items is not None else INVERSIONS[:3]
    for item in items:
        if item not in INVERSIONS:
            raise LineError(f"'{item}' is not an inversion", hint=f"choose from {', '.join(INVERSIONS)}")
    qualities = SEVENTH_CHORDS if INVERSIONS[3] in items else TRIADS

    def question(item: str, allowed: Sequence[int], rng: Random) -> Question:
        turn, quality = INVERSIONS.index(item), rng.choice(qualities)
        found = []
        for name in INVERTED_ROOTS[quality]:
            tones = _close_voicings(parse_chord(f"{name}{quality}"))[turn]
            for up in (0, 12):
                moved = tuple(pitch.name.at_or_above(pitch.midi + up) for pitch in tones)
                if all(pitch.midi in allowed for pitch in moved):
                    found.append((name, moved))
        if not found:
            raise LineError(f"the position has no room for a {item}", hint="choose another position")
        root, tones = rng.choice(found)
        chord = parse_chord(f"{root}{quality}")
        laid = chord if turn == 0 else parse_chord(f"{chord}/{tones[0].name}")
        names = Row(pitch.name for pitch in tones)
        text = Said("{inversion}: {chord} ({notes})", inversion=Said(item), chord=laid, notes=names)
        return Question(text, asked_chords=(tones,), confirmed=tones, root=chord.root)

    return drill_track(
        "inversion", Said("Which inversion?"), items, question, timeline, exercise, player,
        choices=[Choice(Said(item)) for item in items],
    )  # fmt: skip


def voiced(numerals: str, key: Key) -> tuple[tuple[Pitch, ...], ...]:
    """The chords of some numerals in close position, led smoothly."""
    return tuple(smoothest_path([_close_voicings(chord) for chord in _progression(numerals, key)]))


def _progression(text: str, key: Key) -> list[Chord]:
    try:
        chords = [chord_from_numeral(numeral, key) for numeral in text.split()]
    except NotationError as error:
        raise LineError(error.message, hint=error.hint) from error
    if not chords:
        raise LineError("a progression of no chords", hint="write for example ii7 V7 Imaj7")
    return chords


def _written_down(items: Sequence[str]) -> list[Choice]:
    return [Choice(item, signs=len(item.split())) for item in items]


def _bass_degrees(text: str, key: Key) -> list[Degree]:
    try:
        degrees = [Degree.parse(word) for word in text.split()]
    except NotationError as error:
        raise LineError(error.message, hint=error.hint) from error
    harmony = BASS_HARMONY[key.plain_mode]
    for degree in degrees:
        if str(degree) not in harmony:
            raise LineError(
                f"the bass degree {degree} has no chord of its own in {key}",
                hint=f"choose from {' '.join(harmony)}",
            )
    if not degrees:
        raise LineError("a bass line of no notes", hint="write degrees, for example 1 4 5 1")
    return degrees


def _bass_line(names: Sequence[NoteName]) -> list[Pitch]:
    """The names as a bass plays them: each the nearest to the one before, within the range."""
    found: list[Pitch] = []
    near = BASS_HOME_MIDI
    for name in names:
        octaves = [
            midi
            for midi in range(LOWEST_BASS_MIDI, HIGHEST_BASS_MIDI + 1)
            if midi % 12 == name.pitch_class
        ]
        near = min(octaves, key=lambda midi: (abs(midi - near), midi))
        found.append(name.at_or_above(near))
    return found


def _close_voicings(chord: Chord) -> list[tuple[Pitch, ...]]:
    """The chord and its inversions in close position in the middle register."""
    found = []
    names = chord.notes
    for turn in range(len(names)):
        lowest = names[turn].at_or_above(LOWEST_CHORD_MIDI)
        tones = [lowest]
        for name in (*names[turn + 1 :], *names[:turn]):
            tones.append(name.at_or_above(tones[-1].midi + 1))
        found.append(tuple(tones))
    return found


def _near_middle(name: NoteName, allowed: Sequence[int]) -> Pitch:
    """The pitch of a name that lies nearest to the lower third of what the lead may play."""
    aim = allowed[len(allowed) // 3]
    found = [midi for midi in allowed if midi % 12 == name.pitch_class]
    if not found:
        raise LineError(f"the position holds no {name}", hint="choose another position")
    return name.at_or_above(min(found, key=lambda midi: (abs(midi - aim), midi)))
