"""Recipe -> Score: the one place where recipe, band and lines meet."""

from genex.compose.chart_timeline import build_timeline
from genex.compose.feels import click_note, tempo_note, usual_of_feel
from genex.compose.kept import Memory
from genex.compose.piece import (
    Composer,
    Composition,
    band_swing,
    compose,
    default_feel,
    last_chord,
    own_fingerings,
    part_word,
    recipe_groove,
    recipe_tuning,
)

__all__ = [
    "Composer",
    "Composition",
    "Memory",
    "band_swing",
    "build_timeline",
    "click_note",
    "compose",
    "default_feel",
    "last_chord",
    "own_fingerings",
    "part_word",
    "recipe_groove",
    "recipe_tuning",
    "tempo_note",
    "usual_of_feel",
]
