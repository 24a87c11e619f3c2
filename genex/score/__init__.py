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
from genex.score.passages import JumpSpan, Pass, RepeatSpan
from genex.score.pitch_curve import height_at, pitch_curve
from genex.score.timeline import (
    COMMON_TIME,
    PUSH_BEATS,
    PUSH_SIGN,
    Bar,
    ChordSpan,
    Meter,
    SectionSpan,
    TempoChange,
    TempoMap,
    Timeline,
)

__all__ = [
    "COMMON_TIME",
    "INSTRUMENTS",
    "KITS",
    "PERCUSSION",
    "PERCUSSION_CHANNEL",
    "PUSH_BEATS",
    "PUSH_SIGN",
    "Articulation",
    "Bar",
    "Bend",
    "ChordSpan",
    "FileClock",
    "Fretting",
    "HeldGrip",
    "JumpSpan",
    "LeadIn",
    "Legato",
    "Meter",
    "Mix",
    "Note",
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
    "Timeline",
    "height_at",
    "pitch_curve",
    "program_name",
    "require_sound",
]
