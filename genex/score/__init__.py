"""Notes, parts, the timeline and the Score; General MIDI numbers; beats as times of a file."""

from genex.score.checks import require_sound
from genex.score.clock import FileClock
from genex.score.gm import (
    INSTRUMENTS,
    KITS,
    PERCUSSION,
    PERCUSSION_CHANNEL,
    program_name,
)
from genex.score.hits import HELD_SIGN, Hit, counted_hits, parts_of_beat, written_hits
from genex.score.meter import COMMON_TIME, Meter
from genex.score.model import (
    Articulation,
    Bend,
    Fretting,
    HeldGrip,
    LeadIn,
    Legato,
    Mix,
    Note,
    Part,
    Role,
    Score,
    Slide,
    Stroke,
)
from genex.score.note_values import BASE_VALUES, TUPLETS, NoteValue
from genex.score.passages import JumpSpan, Pass, RepeatSpan
from genex.score.pitch_curve import (
    VIBRATO_HZ,
    VIBRATO_SEMITONES,
    bend_curve,
    height_at,
    pitch_curve,
    vibrato_start,
)
from genex.score.tempo_signs import TempoSign, TempoWord
from genex.score.timeline import (
    PUSH_BEATS,
    PUSH_SIGN,
    Bar,
    ChordSpan,
    SectionSpan,
    TempoChange,
    TempoMap,
    Timeline,
)

__all__ = [
    "BASE_VALUES",
    "COMMON_TIME",
    "HELD_SIGN",
    "INSTRUMENTS",
    "KITS",
    "PERCUSSION",
    "PERCUSSION_CHANNEL",
    "PUSH_BEATS",
    "PUSH_SIGN",
    "TUPLETS",
    "VIBRATO_HZ",
    "VIBRATO_SEMITONES",
    "Articulation",
    "Bar",
    "Bend",
    "ChordSpan",
    "FileClock",
    "Fretting",
    "HeldGrip",
    "Hit",
    "JumpSpan",
    "LeadIn",
    "Legato",
    "Meter",
    "Mix",
    "Note",
    "NoteValue",
    "Part",
    "Pass",
    "RepeatSpan",
    "Role",
    "Score",
    "SectionSpan",
    "Slide",
    "Stroke",
    "TempoChange",
    "TempoMap",
    "TempoSign",
    "TempoWord",
    "Timeline",
    "bend_curve",
    "counted_hits",
    "height_at",
    "parts_of_beat",
    "pitch_curve",
    "program_name",
    "require_sound",
    "vibrato_start",
    "written_hits",
]
