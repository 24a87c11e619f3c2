"""The event model: notes, parts and the Score that every output is a view of.

Written and sounding time
-------------------------
``onset_beats`` and ``duration_beats`` are what is *written*: tab and notation read them.
Swing, humanising and articulation live in ``offset_beats`` (sounding onset minus written
onset) and ``sounding_beats`` (sounding length): MIDI and audio read ``start_beats`` and
``end_beats``. Sounding times lie on MIDI ticks, so that MIDI and audio agree.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from enum import Enum
from functools import cached_property

from genex.exact import Fraction
from genex.fretboard import HandMove
from genex.score.gm import CLICK_KEYS
from genex.score.timeline import TempoMap, Timeline
from genex.theory import Degree, Pitch
from genex.units import TICKS_PER_BEAT, ticks_to_beats

ZERO = Fraction(0)


class Role(Enum):
    """What a part is for. The band accompanies; the lead parts are studied and get tab."""

    DRUMS = "drums"
    BASS = "bass"
    COMPING = "comping"
    GUIDE = "guide"
    EXERCISE = "exercise"
    LEAD = "lead"
    CLICK = "click"
    CUE = "cue"

    @property
    def is_lead(self) -> bool:
        return self in (Role.GUIDE, Role.EXERCISE, Role.LEAD)

    @property
    def is_percussion(self) -> bool:
        return self in (Role.DRUMS, Role.CLICK)


class Articulation(Enum):
    """How a note is struck. Velocity and length already follow it; tab and notation mark it."""

    NORMAL = "normal"
    STACCATO = "staccato"
    ACCENT = "accent"
    GHOST = "ghost"
    DEAD = "dead"


class Stroke(Enum):
    """The way of the hand through a strummed chord: down from the thickest string, or up."""

    DOWN = "down"
    UP = "up"


@dataclass(frozen=True, slots=True)
class Fretting:
    """Where a note lies. Strings count from 1 (highest); finger 0 is open, 1 to 4 index to little."""

    string: int
    fret: int
    finger: int | None = None
    move: HandMove = HandMove.NONE


@dataclass(frozen=True, slots=True)
class Slide:
    """The note is reached by a slide that starts ``from_semitones`` away and lasts ``length_beats``.

    Negative is from below. The slide lies at the beginning of the note it belongs to.
    """

    from_semitones: int
    length_beats: Fraction


class Legato(Enum):
    """A note that the fretting hand makes sound, without a stroke, on the string of the note before."""

    HAMMER_ON = "hammer-on"
    PULL_OFF = "pull-off"


@dataclass(frozen=True, slots=True)
class Bend:
    """The string is bent up by ``semitones`` from the note's own pitch; it may be let back."""

    semitones: int
    releases: bool = False


@dataclass(frozen=True, slots=True)
class Note:
    """One note. Times in quarter-note beats; ``velocity`` 1 to 127.

    On percussion parts the pitch's MIDI number is the General MIDI percussion key. ``syllable`` is what
    a player says to count it, or sings, printed below it: with a hyphen behind it where its word goes
    on, empty for none. ``rings``: it may sound on while others on other strings are struck.
    """

    onset_beats: Fraction
    duration_beats: Fraction
    pitch: Pitch
    velocity: int = 80
    articulation: Articulation = Articulation.NORMAL
    offset_beats: Fraction = ZERO
    sounding_beats: Fraction | None = None
    fretting: Fretting | None = None
    degree: Degree | None = None
    slide: Slide | None = None
    stroke: Stroke | None = None
    syllable: str = ""
    legato: Legato | None = None
    bend: Bend | None = None
    vibrato: bool = False
    rings: bool = False

    def __post_init__(self) -> None:
        if self.duration_beats <= 0 or (self.sounding_beats is not None and self.sounding_beats <= 0):
            raise ValueError(f"a note must last: {self}")
        if not 1 <= self.velocity <= 127:
            raise ValueError(f"velocity {self.velocity} is not in 1..127")

    def cut_to(self, length_beats: Fraction) -> Note:
        """The note with a shorter written length, and sounding no longer than that."""
        sounding = None if self.sounding_beats is None else min(self.sounding_beats, length_beats)
        return replace(self, duration_beats=length_beats, sounding_beats=sounding)

    @property
    def midi(self) -> int:
        return self.pitch.midi

    @property
    def written_end_beats(self) -> Fraction:
        return self.onset_beats + self.duration_beats

    @property
    def sounding_ticks(self) -> tuple[int, int]:
        """Sounding onset and end in ticks, the end at least one after the onset.

        Whole numbers throughout: this is asked for every note by everything that sounds.
        """
        length = self.duration_beats if self.sounding_beats is None else self.sounding_beats
        onset, offset = self.onset_beats, self.offset_beats
        numerator = onset.numerator * offset.denominator + offset.numerator * onset.denominator
        denominator = onset.denominator * offset.denominator
        start = (2 * TICKS_PER_BEAT * numerator + denominator) // (2 * denominator)
        numerator = numerator * length.denominator + length.numerator * denominator
        denominator *= length.denominator
        end = (2 * TICKS_PER_BEAT * numerator + denominator) // (2 * denominator)
        return start, max(end, start + 1)

    @property
    def start_ticks(self) -> int:
        """Sounding onset in ticks."""
        return self.sounding_ticks[0]

    @property
    def end_ticks(self) -> int:
        """Sounding end in ticks."""
        return self.sounding_ticks[1]

    @property
    def start_beats(self) -> Fraction:
        """Sounding onset, on a tick."""
        return ticks_to_beats(self.start_ticks)

    @property
    def end_beats(self) -> Fraction:
        """Sounding end, on a tick and at least one tick after the start."""
        return ticks_to_beats(self.end_ticks)


@dataclass(frozen=True, slots=True)
class HeldGrip:
    """What the fretting hand holds from ``onset_beats`` on: a note a string, the lowest pitch first,
    each as long as the chord lasts, whether it is struck or not."""

    onset_beats: Fraction
    notes: tuple[Note, ...]

    @property
    def places(self) -> dict[int, tuple[int, int | None]]:
        """Fret and finger by string."""
        return {p.string: (p.fret, p.finger) for note in self.notes if (p := note.fretting)}


@dataclass(frozen=True, slots=True)
class Mix:
    """Where a part stands in the mix: level in dB, pan -1 (left) to 1 (right), room send 0 to 1."""

    level_db: float = 0.0
    pan: float = 0.0
    room: float = 0.15


@dataclass(frozen=True)
class Part:
    """One player's notes, sorted by written onset, then pitch.

    name     unique in the score, lower case, used in file names and on tracks
    program  General MIDI program, 0-based; on percussion the kit (0 standard, 32 jazz, …)
    strings  open pitches of the instrument the frettings refer to, without capo, string 1 first
    capo     fret that the capo lies at, 0 for none; frettings count their frets from it, as tab
             does, so fret 0 of a string sounds its open pitch raised by ``capo`` half steps
    grips    of a part of chords what the hand holds, in order; a chord may be struck ahead of its grip
    pickup_notes  how many of its last notes are those of a pickup, which a loop has at its end
    """

    name: str
    role: Role
    program: int
    notes: tuple[Note, ...]
    strings: tuple[Pitch, ...] = ()
    mix: Mix = Mix()
    capo: int = 0
    grips: tuple[HeldGrip, ...] = ()
    pickup_notes: int = 0

    @classmethod
    def of(
        cls,
        name: str,
        role: Role,
        program: int,
        notes: Iterable[Note],
        *,
        strings: tuple[Pitch, ...] = (),
        mix: Mix = Mix(),
        capo: int = 0,
        grips: tuple[HeldGrip, ...] = (),
    ) -> Part:
        """A part with its notes put into order."""
        ordered = tuple(sorted(notes, key=lambda note: (note.onset_beats, note.midi)))
        return cls(name, role, program, ordered, strings, mix, capo, grips)

    @property
    def is_percussion(self) -> bool:
        return self.role.is_percussion

    @property
    def is_click(self) -> bool:
        """Whether nothing but wood blocks is struck."""
        return self.is_percussion and all(note.midi in CLICK_KEYS for note in self.notes)

    @property
    def chordal(self) -> bool:
        """Whether it holds chords: notes struck together then lie on strings of their own."""
        return bool(self.grips)

    @cached_property
    def sounding_ticks(self) -> tuple[tuple[int, int], ...]:
        """Sounding onset and end of each note in ticks."""
        return tuple(note.sounding_ticks for note in self.notes)

    def with_pickup_first(self, length_beats: Fraction, *, also_at_end: bool = False) -> Part:
        """The part with its pickup before beat 0, over no chord; ``also_at_end`` leaves it there too."""
        if not self.pickup_notes:
            return self
        others = self.notes[: -self.pickup_notes]
        first = tuple(
            replace(note, onset_beats=note.onset_beats - length_beats, degree=None)
            for note in self.notes[-self.pickup_notes :]
        )
        return replace(self, notes=(*first, *(self.notes if also_at_end else others)), pickup_notes=0)

    def map_notes(self, change: Callable[[Note], Note]) -> Part:
        return replace(self, notes=tuple(change(note) for note in self.notes))


@dataclass(frozen=True, slots=True)
class LeadIn:
    """A count-in before the first bar: its notes' onsets run from 0 to ``length_beats``."""

    length_beats: Fraction
    part: Part


@dataclass(frozen=True)
class Score:
    """A whole piece, frozen once composed. Every file is a view of one.

    The parts never reach beyond ``length_beats`` in written time. ``lead_in`` belongs to the
    full take only; loops leave it out. Notes of a take or a page that lie before beat 0 are its pickup,
    ``pickup_beats`` long; the timeline of a loop has none.
    """

    title: str
    feel: str
    timeline: Timeline
    parts: tuple[Part, ...]
    lead_in: LeadIn | None = None
    pickup_beats: Fraction = ZERO

    def __post_init__(self) -> None:
        names = [part.name for part in self.parts]
        if len(set(names)) != len(names):
            raise ValueError(f"part names are not unique: {names}")

    @property
    def length_beats(self) -> Fraction:
        return self.timeline.length_beats

    @property
    def lead_in_beats(self) -> Fraction:
        """Length of the count-in, 0 where there is none."""
        return self.lead_in.length_beats if self.lead_in else ZERO

    @property
    def tempo(self) -> TempoMap:
        return self.timeline.tempo

    @property
    def pickup_value(self) -> str:
        """Length of the pickup as a note value, such as ``1/4``; empty where there is none."""
        length = self.pickup_beats / 4
        return f"{length.numerator}/{length.denominator}" if length else ""

    def written(self) -> Score:
        """The score as a page has it: a pickup stands before bar 1.

        Where the form is played several times, it stands in the last bar too, from where the
        next time begins.
        """
        if not self.pickup_beats:
            return self
        again = self.timeline.bars[-1].chorus > 1
        parts = (part.with_pickup_first(self.length_beats, also_at_end=again) for part in self.parts)
        timeline = replace(self.timeline, pickup_beats=self.pickup_beats)
        return replace(self, timeline=timeline, parts=tuple(parts))

    @cached_property
    def lead_parts(self) -> tuple[Part, ...]:
        return tuple(part for part in self.parts if part.role.is_lead)

    def part(self, name: str) -> Part:
        """The part of that name. Raises KeyError."""
        for part in self.parts:
            if part.name == name:
                return part
        raise KeyError(name)

    def only(self, *names: str) -> Score:
        """The same score with the named parts only."""
        return replace(self, parts=tuple(part for part in self.parts if part.name in names))
