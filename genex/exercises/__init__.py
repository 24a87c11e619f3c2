"""What can be practised: a model for each kind of exercise, and the context that it is composed in.

Each kind is declared once (``models/``): its fields with limits, defaults and descriptions, what is
usual with it, and the function that composes it. Schema, messages, checks, documentation and
composing follow from that. The guide line and the click, which are no exercises, are declared alike.
"""

from genex.exercises.any_kind import AnyExercise
from genex.exercises.exercise import ChartFacts, Exercise, Fault, not_played, refusals
from genex.exercises.guide_line import GuideLine
from genex.exercises.player import LineFamily, Player, Struck
from genex.exercises.practice_click import Click
from genex.exercises.registry import composing_function, find_kind, kind_of, kinds, register, sources_of

__all__ = [
    "AnyExercise",
    "ChartFacts",
    "Click",
    "Exercise",
    "Fault",
    "GuideLine",
    "LineFamily",
    "Player",
    "Struck",
    "composing_function",
    "find_kind",
    "kind_of",
    "kinds",
    "not_played",
    "refusals",
    "register",
    "sources_of",
]
