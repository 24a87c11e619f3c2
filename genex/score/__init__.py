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
    Fretting,
    HeldGrip,
    LeadIn,
    Mix,
    Note,
    Part,
    Role,
    Score,
    Slide,
    Stroke,
)
from genex.score.passages import JumpSpan, Pass, RepeatSpan
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
    "ChordSpan",
    "FileClock",
    "Fretting",
    "HeldGrip",
    "JumpSpan",
    "LeadIn",
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
    "program_name",
    "require_sound",
]
