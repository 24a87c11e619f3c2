"""The arpeggio of each chord."""

from __future__ import annotations

from typing import Literal

from genex.exercises.families import Running
from genex.exercises.registry import register


@register
class Arpeggio(Running):
    """The arpeggio of each chord, up and down in one position, in time with the changes."""

    composed_by = "genex.lines.arpeggio:arpeggio_exercise"

    kind: Literal["arpeggio"] = "arpeggio"
