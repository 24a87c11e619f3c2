"""A pickup: what is played before the first bar.

A take begins with it, behind the count-in; a loop, which is whole bars, has it at its end, from where
it leads back [common practice]. It is as long as the recipe says, or else as the line's own.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace

from genex.band import Groove, count_in
from genex.errors import LineError
from genex.exact import Fraction
from genex.lines.study_plan import StudyPlan
from genex.score import LeadIn, Note, Part, Role, Timeline


def told_pickup(plan: StudyPlan) -> StudyPlan:
    """The plan, its timeline with the pickup of its lines where the chart names none.

    Raises LineError for a line whose pickup is longer than the chart's.
    """
    length, wanted = plan.length_beats, plan.timeline.pickup_beats
    begun = [_first(part).onset_beats for part in plan.parts if part.pickup_notes]
    own = length - min(begun, default=length)
    if not own or own <= wanted:
        return plan
    if wanted:
        raise LineError(
            f"the line has a pickup of {_beats(own)}, the chart one of {_beats(wanted)}",
            hint="leave 'pickup' away, and the line's own is taken",
        )
    return replace(plan, timeline=replace(plan.timeline, pickup_beats=own))


def _first(part: Part) -> Note:
    return part.notes[-part.pickup_notes]


def _beats(length: Fraction) -> str:
    return f"{float(length):g} quarter note{'s' if length != 1 else ''}"


def pickup_first(plan: StudyPlan) -> StudyPlan:
    """The plan as a take has it, its pickup before the first bar."""
    parts = (part.with_pickup_first(plan.length_beats) for part in plan.parts)
    return replace(plan, parts=tuple(parts))


def lead_in(timeline: Timeline, bars: int, groove: Groove, leads: Iterable[Part]) -> LeadIn | None:
    """The count-in of so many bars, and what a pickup lacks of one more.

    It is counted up to the pickup; through it, where the student alone plays it. None where there is
    nothing to be counted or to be heard before the first bar.
    """
    pickup = timeline.pickup_beats
    if not pickup:
        return count_in(timeline, bars, groove) if bars else None
    is_heard = any(part.pickup_notes or (part.notes and part.notes[0].onset_beats < 0) for part in leads)
    if not bars:
        silence = Part.of("count-in", Role.CLICK, 0, ())
        return LeadIn(pickup, silence) if is_heard else None
    counted = count_in(timeline, bars + 1, groove)
    if not is_heard:
        return counted
    end = counted.length_beats - pickup
    before = tuple(note for note in counted.part.notes if note.onset_beats < end)
    return replace(counted, part=replace(counted.part, notes=before))
