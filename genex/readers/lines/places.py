"""Where something stands that was typed: in a file, or in a field of a recipe."""

from __future__ import annotations

from collections.abc import Callable

from genex.errors import Place

Locate = Callable[[int, int], Place]
"""The place of a line and a column, both from 1, of the text that is read."""


def in_file(file: str) -> Locate:
    """Places of a file of its own."""
    return lambda line, column: Place(file, line, column)
