"""Recipe -> Score: the one place where recipe, band and lines meet."""

from genex.compose.piece import Composition, compose, default_feel
from genex.compose.timeline import build_timeline

__all__ = ["Composition", "build_timeline", "compose", "default_feel"]
