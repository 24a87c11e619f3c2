"""Recipes to files on disk: checks first, atomic writes, a manifest."""

from genex.build.answers import (
    ShapesRequest,
    chord_answer,
    chord_text,
    feels_answer,
    feels_text,
    midi_tab,
    shapes_answer,
    shapes_page,
    shapes_picture,
)
from genex.build.jobs import (
    build_all,
    check_all,
    check_line,
    error_json,
    list_examples,
    new_recipe,
    recipe_schema,
    summary,
)

__all__ = [
    "ShapesRequest",
    "build_all",
    "check_all",
    "check_line",
    "chord_answer",
    "chord_text",
    "error_json",
    "feels_answer",
    "feels_text",
    "list_examples",
    "midi_tab",
    "new_recipe",
    "recipe_schema",
    "shapes_answer",
    "shapes_page",
    "shapes_picture",
    "summary",
]
