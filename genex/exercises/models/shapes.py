"""The practice path of shapes."""

from __future__ import annotations

from typing import Literal

from genex.exercises.families import OverShapes
from genex.exercises.registry import register


@register
class Shapes(OverShapes):
    """The practice path of each chord's shapes: lowest root, up, down, back to the root."""

    composed_by = "genex.lines.study:practice_path"

    kind: Literal["shapes"] = "shapes"
