"""What a page shows and plays of a lesson, as plain data: notes, chart, neck, cues, keys.

A lesson comes in *settings*, one for each key that the recipe asks for, as genex composed it there.
In the other keys the page moves the first setting (``moves``); chord symbols and note names are
spelled here for each key. Times are ticks, 960 a quarter note.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from genex.exact import Fraction
from genex.export.chord_chart import signs_before
from genex.export.note_names import chord_name, key_words, note_name
from genex.export.page_signs import PLAIN, Signs
from genex.export.phrases import capitalised, part_name, words
from genex.export.repeat_signs import jump_signs
from genex.export.tempo_words import FERMATA, TempoSigns
from genex.export.typography import with_signs
from genex.export.xml_techniques import technique_words
from genex.fretboard import HandMove, Tuning
from genex.lines.study_plan import Answer, CueSpan
from genex.page.moves import SHIFTS, shifts_of
from genex.page.shapes import NeckShapes
from genex.page.sounds import preset_name
from genex.score import (
    PUSH_SIGN,
    VIBRATO_HZ,
    VIBRATO_SEMITONES,
    Bar,
    LeadIn,
    Note,
    Part,
    Score,
    Timeline,
    bend_curve,
    program_name,
    vibrato_start,
    written_hits,
)
from genex.theory import Chord, Key, NoteName, interval_between, key_cycle, transpose_chord
from genex.units import TICKS_PER_BEAT, beats_to_ticks, ticks_to_beats


@dataclass(frozen=True)
class PageSetting:
    """A lesson in one key: its score, and what the student does when."""

    score: Score
    cues: tuple[CueSpan, ...] = ()
    answers: tuple[Answer, ...] = ()


@dataclass(frozen=True)
class PageLesson:
    """A lesson for a page.

    settings  in the keys that the recipe asks for, the first one first
    tempos    its tempos, in pulses a minute
    swing     long against short eighth of the band where the feel swings by eighths; 1 is straight
    neck      what the shapes of its chords are shown on; None shows no shapes
    language  of names of notes, keys and players
    """

    title: str
    slug: str
    settings: tuple[PageSetting, ...]
    tempos: tuple[float, ...] = ()
    swing: float = 1.0
    left_handed: bool = False
    neck: Tuning | None = None
    language: str = "en"


def lesson_data(lesson: PageLesson, music: Callable[[Score], Any]) -> dict[str, Any]:
    """A lesson as plain data. ``music`` engraves a score's first line; None where there is none."""
    first = lesson.settings[0].score
    shapes = None if lesson.neck is None else NeckShapes(lesson.neck)
    phrases = words(lesson.language)
    settings = [_setting(setting, music, shapes, phrases) for setting in lesson.settings]
    has_chords = any(setting["tones"] for setting in settings)
    return {
        "title": lesson.title,
        "slug": lesson.slug,
        "feel": first.feel,
        "meter": str(first.timeline.meter),
        "left_handed": lesson.left_handed,
        "tempos": list(lesson.tempos),
        "swing": lesson.swing,
        "neck": shapes.data() if shapes is not None and has_chords else None,
        "settings": settings,
    }


class _Names:
    """Values listed once, and their places."""

    def __init__(self) -> None:
        self.listed: list[Any] = []
        self._places: dict[Any, int] = {}

    def place(self, value: Any) -> int:
        if value not in self._places:
            self._places[value] = len(self.listed)
            self.listed.append(value)
        return self._places[value]


def _setting(
    setting: PageSetting,
    music: Callable[[Score], Any],
    shapes: NeckShapes | None,
    phrases: Mapping[str, str],
) -> dict[str, Any]:
    score = setting.score
    timeline = score.timeline
    chords, names = _Names(), _Names()
    spans = []
    for span in timeline.merged_chords:
        place = -1 if span.chord is None else chords.place(span.chord)
        spans.append(
            {
                "at": beats_to_ticks(span.onset_beats),
                "length": beats_to_ticks(span.length_beats),
                "chord": place,
                "guides": [] if span.chord is None else _guides(span.chord, names),
            }
        )
    jumps = jump_signs(timeline)
    signs = TempoSigns(timeline)
    bars = [
        _bar(bar, timeline, chords, jumps.get(bar.onset_beats, PLAIN), signs) for bar in timeline.bars
    ]
    parts = [_part(part, names, phrases) for part in score.parts]
    tones = [_tones(chord, names) for chord in chords.listed]
    pulse = timeline.meter.pulse_beats
    return {
        "key": with_signs(key_words(timeline.key, phrases)),
        "home": SHIFTS.index(0),
        "keys": [
            _moved(timeline.key, key, chords.listed, names.listed, shapes, phrases)
            for key in _keys(timeline.key)
        ],
        "tones": tones,
        "tempo": [
            [beats_to_ticks(c.onset_beats), c.tempo_bpm.numerator, c.tempo_bpm.denominator]
            for c in timeline.tempo.changes
        ],
        "pulses": float(timeline.tempo.pulses_at(timeline.bars[0].onset_beats, timeline.meter)),
        "pulse": beats_to_ticks(pulse),
        "length": beats_to_ticks(score.length_beats),
        "bars": bars,
        "chords": spans,
        "parts": parts,
        "cues": [
            {
                "at": beats_to_ticks(cue.onset_beats),
                "length": beats_to_ticks(cue.length_beats),
                "text": with_signs(cue.text),
                "kind": cue.kind,
            }
            for cue in setting.cues
        ],
        "questions": _questions(setting),
        "tick": _tick(score.lead_in),
        "music": music(score),
    }


def _bar(
    bar: Bar, timeline: Timeline, chords: _Names, jumps: Signs, signs: TempoSigns
) -> dict[str, Any]:
    """A bar of the chart; ``before`` and ``behind`` are what jumps and tempo write around it."""
    found = []
    for span in timeline.chords_in(bar):
        if span.chord is not None or timeline.has_chords:
            place = -1 if span.chord is None else chords.place(span.chord)
            pushed = {"pushed": PUSH_SIGN} if span.push_beats else {}
            found.append({"at": beats_to_ticks(span.onset_beats), "chord": place, **pushed})
    return {
        "at": beats_to_ticks(bar.onset_beats),
        "length": beats_to_ticks(bar.length_beats),
        "number": bar.number,
        "form": bar.form_number,
        "chorus": bar.chorus,
        "section": bar.section,
        "pulses": [beats_to_ticks(pulse) for pulse in bar.meter.pulses],
        "chords": found,
        "before": " ".join(filter(None, (signs_before(jumps), signs.words(bar)))),
        "behind": " ".join(
            filter(
                None,
                (
                    "" if bar.hits is None else written_hits(bar.hits),
                    FERMATA if signs.fermatas(bar) else "",
                    jumps.said,
                ),
            )
        ),
    }


def _guides(chord: Chord, names: _Names) -> list[dict[str, Any]]:
    """The two guide tones: degree, name and pitch class."""
    found = []
    for degree in chord.guide_tones:
        name = chord.root.degree(degree)
        found.append(
            {
                "degree": with_signs(str(degree)),
                "name": names.place(name),
                "pitch": name.pitch_class,
            }
        )
    return found


def _tones(chord: Chord, names: _Names) -> list[list[Any]]:
    """Degree, name and pitch class of each tone of a chord."""
    return [
        [with_signs(str(degree)), names.place(chord.root.degree(degree)), pitch_class]
        for pitch_class, degree in chord.by_pitch_class.items()
    ]


def _keys(key: Key) -> list[Key]:
    """The keys that ``SHIFTS`` lead to."""
    by_pitch_class = {found.tonic.pitch_class: found for found in key_cycle(key, "fourths")}
    return [by_pitch_class[(key.tonic.pitch_class + shift) % 12] for shift in SHIFTS]


def _moved(
    key: Key,
    target: Key,
    chords: Sequence[Chord],
    names: Sequence[NoteName],
    shapes: NeckShapes | None,
    phrases: Mapping[str, str],
) -> dict[str, Any]:
    """One of the twelve keys: its name, the chord symbols and the names of notes in it, the shapes."""
    interval = interval_between(key, target)
    moved = [transpose_chord(chord, key, target) for chord in chords]
    return {
        "name": with_signs(key_words(target, phrases)),
        "chords": [with_signs(chord_name(chord, phrases)) for chord in moved],
        "names": [with_signs(note_name(name.transpose(interval), phrases)) for name in names],
        "shapes": [] if shapes is None else shapes.places(moved),
    }


def _part(part: Part, names: _Names, phrases: Mapping[str, str]) -> dict[str, Any]:
    return {
        "name": part.name,
        "title": _title(part, phrases),
        "sound": "" if part.is_percussion else program_name(part.program),
        "role": part.role.value,
        "is_lead": part.role.is_lead,
        "preset": preset_name(part),
        "strings": [pitch.midi for pitch in part.strings],
        "capo": part.capo,
        "level_db": part.mix.level_db,
        "pan": part.mix.pan,
        "room": part.mix.room,
        "shifts": list(shifts_of(part)),
        "rows": _rows(part, names),
    }


def _title(part: Part, phrases: Mapping[str, str]) -> str:
    told = part_name(part.name, phrases)
    return capitalised(told if told != part.name else told.replace("-", " "))


def _rows(part: Part, names: _Names) -> list[list[Any]]:
    said = technique_words(part)
    return [_row(note, names, said.get(note.onset_beats, "")) for note in part.notes]


def _row(note: Note, names: _Names, said: str) -> list[Any]:
    """A note: written onset, sounding start after it, sounding length, key, velocity.

    On a neck also string, fret, finger (-1 for none), degree, name, written length and move; a slide, as
    half steps and ticks, or None; last, of notes with a technique, ``_curve`` and the words for it.
    """
    start, end = note.sounding_ticks
    at = beats_to_ticks(note.onset_beats)
    row: list[Any] = [at, start - at, end - start, note.midi, note.velocity]
    place = note.fretting
    curve = _curve(note, end - start)
    if place is not None or note.slide is not None or note.degree is not None or curve is not None:
        degree = "" if note.degree is None else with_signs(str(note.degree))
        row += [
            place.string if place else 0,
            place.fret if place else 0,
            -1 if place is None or place.finger is None else place.finger,
            degree,
            names.place(note.pitch.name),
            beats_to_ticks(note.duration_beats),
            "" if place is None or place.move is HandMove.NONE else place.move.value,
        ]
        if note.slide is not None:
            row.append([note.slide.from_semitones, int(note.slide.length_beats * TICKS_PER_BEAT)])
        if said or curve is not None:
            row += [*([] if note.slide is not None else [None]), curve, said]
    return row


def _curve(note: Note, length_ticks: int) -> list[Any] | None:
    """How the pitch of a note moves: its bend, as ticks after its start and half steps, and its vibrato.

    The vibrato is where it begins, in the same way, how often a second it goes and how high: it keeps
    its speed when the page plays slower. None for a note that keeps its pitch.
    """
    if note.bend is None and not note.vibrato:
        return None
    length_beats = ticks_to_beats(length_ticks)
    points = [_point(*point) for point in bend_curve(note, length_beats)]
    if not note.vibrato:
        return [points, None]
    begin = _point(*vibrato_start(note, length_beats))
    return [points, [*begin, float(VIBRATO_HZ), round(float(VIBRATO_SEMITONES), 4)]]


def _point(beats: Fraction, semitones: Fraction) -> list[float]:
    return [int(beats * TICKS_PER_BEAT), float(semitones)]


def _questions(setting: PageSetting) -> list[dict[str, Any]]:
    """Questions of a drill or calls: where each begins and ends, its answer and when that comes.

    ``keys`` is what is played for it, as MIDI numbers.
    """
    score = setting.score
    ends = [answer.onset_beats for answer in setting.answers[1:]] + [score.length_beats]
    found = []
    for answer, after in zip(setting.answers, ends, strict=False):
        told = [
            cue.onset_beats
            for cue in setting.cues
            if cue.kind in ("answer", "play") and answer.onset_beats < cue.onset_beats < after
        ]
        found.append(
            {
                "number": answer.number,
                "at": beats_to_ticks(answer.onset_beats),
                "length": beats_to_ticks(after - answer.onset_beats),
                "text": with_signs(answer.text),
                "keys": [note.midi for note in answer.notes],
                "answer_at": beats_to_ticks(min(told, default=after)),
            }
        )
    return found


def _tick(lead_in: LeadIn | None) -> dict[str, Any] | None:
    """How a count sounds: the strokes of the count-in."""
    if lead_in is None or not lead_in.part.notes:
        return None
    strokes: Iterable[Note] = lead_in.part.notes
    accent, *others = sorted(strokes, key=lambda note: note.onset_beats)
    plain = others[0] if others else accent
    return {
        "preset": preset_name(lead_in.part),
        "accent": [accent.midi, accent.velocity],
        "plain": [plain.midi, plain.velocity],
    }
