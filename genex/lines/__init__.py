"""Lines to study: guide tones, arpeggios, scales, target tones, phrases, call and response.

Lines over a given chart (each takes a ``Timeline`` and its settings, and returns a ``Part``):
``guide_line`` (a tuple of parts), ``arpeggio_exercise``, ``arpeggio_line``, ``scale_line``,
``target_line``, ``etude``.

Lessons that bring their own chart (each returns a ``StudyPlan``): ``practice_path``,
``sequence_study``, ``tour``, ``every_position``, ``call_and_response``, ``interval_drill``,
``chord_drill``, ``degree_drill``, ``progression_drill``; ``in_tempo_steps`` repeats a plan faster
and faster.
"""

from genex.lines.arpeggio import ArpeggioSettings, arpeggio_exercise
from genex.lines.call import CallSettings, call_and_response
from genex.lines.changes import ChangesSettings, arpeggio_line
from genex.lines.drills import (
    DrillSettings,
    chord_drill,
    degree_drill,
    interval_drill,
    progression_drill,
)
from genex.lines.etude import EtudeSettings, etude
from genex.lines.every_position import every_position
from genex.lines.guide import GuideSettings, guide_line
from genex.lines.scale_lines import ScaleSettings, scale_line
from genex.lines.study import StudySettings, in_keys, practice_path, sequence_study, tour
from genex.lines.study_plan import Answer, CueSpan, StudyPlan, TempoSteps, in_tempo_steps
from genex.lines.targets import TargetSettings, target_line

__all__ = [
    "Answer",
    "ArpeggioSettings",
    "CallSettings",
    "ChangesSettings",
    "CueSpan",
    "DrillSettings",
    "EtudeSettings",
    "GuideSettings",
    "ScaleSettings",
    "StudyPlan",
    "StudySettings",
    "TargetSettings",
    "TempoSteps",
    "arpeggio_exercise",
    "arpeggio_line",
    "call_and_response",
    "chord_drill",
    "degree_drill",
    "etude",
    "every_position",
    "guide_line",
    "in_keys",
    "in_tempo_steps",
    "interval_drill",
    "practice_path",
    "progression_drill",
    "scale_line",
    "sequence_study",
    "target_line",
    "tour",
]
