"""The tour of all positions."""

from __future__ import annotations

from typing import Literal

from pydantic import Field

from genex.exercises.families import OverShapes
from genex.exercises.field_kinds import Whole
from genex.exercises.registry import register


@register
class Tour(OverShapes):
    """All positions of each chord up the neck, each up and down, a bar of rest between."""

    composed_by = "genex.lines.study:practice_path"

    kind: Literal["tour"] = "tour"
    rest_bars: Whole = Field(default=1, ge=0, le=8, description="Bars of rest after each shape.")
