"""The teacher's own words as the templates take them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from genex.export.handout.settings import StudentWords
from genex.export.handout.typeset import plain_text
from genex.text.marked_text import read_marked


def words_block(student: StudentWords, phrases: Mapping[str, str]) -> dict[str, Any] | None:
    """Remarks, homework and lines to write on; None where there is nothing of these."""
    parts = [
        {"heading": phrases[name], "paragraphs": _paragraphs(text), "boxes": name == "homework"}
        for name, text in (("remarks", student.remarks), ("homework", student.homework))
        if text.strip()
    ]
    if not parts and not student.writing_lines:
        return None
    return {
        "kind": "words",
        "parts": parts,
        "writing_lines": student.writing_lines,
        "notes_heading": phrases["own_notes"],
    }


def _paragraphs(text: str) -> list[dict[str, Any]]:
    return [
        {
            "marker": paragraph.marker,
            "depth": paragraph.depth,
            "spans": [
                {
                    "text": _kept_blanks(span.text),
                    "stress": span.stress,
                    "breaks": span.breaks,
                }
                for span in paragraph.spans
            ],
        }
        for paragraph in read_marked(text)
    ]


def _kept_blanks(text: str) -> str:
    """A run of text, clean, with the blanks at its ends, which part it from its neighbours."""
    before = " " if text[:1].isspace() else ""
    after = " " if text[-1:].isspace() and text.strip() else ""
    return f"{before}{plain_text(text)}{after}"
