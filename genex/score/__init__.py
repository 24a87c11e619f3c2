"""Notes, parts, the timeline and the Score."""

from genex.score.model import (
    Articulation,
    Fretting,
    LeadIn,
    Mix,
    Move,
    Note,
    Part,
    Role,
    Score,
    Slide,
)
from genex.score.timeline import (
    Bar,
    ChordSpan,
    Meter,
    SectionSpan,
    TempoChange,
    TempoMap,
    Timeline,
)

__all__ = [
    "Articulation",
    "Bar",
    "ChordSpan",
    "Fretting",
    "LeadIn",
    "Meter",
    "Mix",
    "Move",
    "Note",
    "Part",
    "Role",
    "Score",
    "SectionSpan",
    "Slide",
    "TempoChange",
    "TempoMap",
    "Timeline",
]
