"""The recipe's exercise played: over its chart, or over one that the exercise brings."""

from __future__ import annotations

from genex.exact import decimal
from genex.exercises import Exercise, Player, composing_function
from genex.lines.study_plan import StudyPlan, TempoSteps
from genex.recipe.fields import TempoStepsFields
from genex.score import Part, Timeline


def played(exercise: Exercise, timeline: Timeline, player: Player) -> StudyPlan:
    """What an exercise gives over a recipe's timeline. Raises InputError, ExercisePackageError."""
    found: Part | StudyPlan = composing_function(type(exercise))(timeline, exercise, player)
    return found if isinstance(found, StudyPlan) else StudyPlan(timeline, (found,))


def tempo_steps(wish: TempoStepsFields) -> TempoSteps:
    """The ladder of tempos that a recipe asks for, exact as its decimals are written."""
    start, end, step = (decimal(value) for value in (wish.start, wish.end, wish.step))
    return TempoSteps(start, end, step, wish.bars)
