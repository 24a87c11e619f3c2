"""YAML text in, a validated recipe out, with the line and column of every field."""

from genex.recipe import exercises
from genex.recipe.fields import json_schema
from genex.recipe.recipe import Recipe, Section, Version, parse_recipe, read_recipe
from genex.recipe.starter import starter_text

__all__ = [
    "Recipe",
    "Section",
    "Version",
    "exercises",
    "json_schema",
    "parse_recipe",
    "read_recipe",
    "starter_text",
]
