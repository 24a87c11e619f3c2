"""Arpeggios through the changes."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from genex.exercises.families import Running
from genex.exercises.registry import register


@register
class Changes(Running):
    """One line of chord tones that goes on to the nearest tone when the chord changes."""

    composed_by = "genex.lines.changes:arpeggio_line"

    kind: Literal["changes"] = "changes"
    moving: bool = Field(default=False, description="The hand moves from form to form.")
    falling: bool = Field(default=False, description="Begin at the top and go down.")
