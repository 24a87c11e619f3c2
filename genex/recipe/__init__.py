"""YAML text in, a validated recipe out, with the line and column of every field."""

from genex.recipe.fields import json_schema
from genex.recipe.form import Section
from genex.recipe.recipe import Recipe, Usual, parse_recipe, read_recipe
from genex.recipe.series import Series, parse_lessons, read_lessons
from genex.recipe.starter import retitled, starter_text
from genex.recipe.versions import Version, other_version

__all__ = [
    "Recipe",
    "Section",
    "Series",
    "Usual",
    "Version",
    "json_schema",
    "other_version",
    "parse_lessons",
    "parse_recipe",
    "read_lessons",
    "read_recipe",
    "retitled",
    "starter_text",
]
