"""The words that a recipe has for its parts, its files and the blocks of its handout."""

from __future__ import annotations

from typing import Literal

PartName = Literal["drums", "bass", "comping", "guide", "exercise", "click"]
OutputName = Literal[
    "midi",
    "loop",
    "band",
    "take",
    "stems",
    "tab",
    "answers",
    "captions",
    "timeline",
    "handout",
    "spoken",
    "chart",
    "diagrams",
    "musicxml",
    "leadsheet",
    "page",
]
BlockName = Literal["chart", "task", "questions", "grips", "lines", "practice", "shapes", "care", "key"]

PLAYERS: tuple[PartName, ...] = ("drums", "bass", "comping", "guide", "exercise")
"""Every part but the click, which is there only if asked for."""
DEFAULT_PARTS: tuple[PartName, ...] = ("drums", "bass", "comping", "guide")
DEFAULT_OUTPUTS: tuple[OutputName, ...] = ("midi", "loop", "band", "tab")
SHEET_BLOCKS: tuple[BlockName, ...] = ("chart", "grips", "lines", "practice", "care")
"""One sheet of paper: the five shapes of every chord would be a book."""
