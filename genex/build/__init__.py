"""Recipes to files on disk: checks first, atomic writes, a manifest."""

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
    "build_all",
    "check_all",
    "check_line",
    "error_json",
    "list_examples",
    "new_recipe",
    "recipe_schema",
    "summary",
]
