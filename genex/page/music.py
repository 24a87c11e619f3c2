"""Notation and tab of a lesson's line, engraved as for the sheet, with the places of its notes.

Each system comes as a slim SVG (nothing that only the engraver needs), and with it for every written
onset how far from its left it stands. All systems are packed together (gzip, base64): browsers unpack
it themselves.
"""

from __future__ import annotations

import base64
import gzip
import json
from typing import Any

from genex.export.musicxml import parts_document
from genex.export.placed_systems import placed_systems
from genex.export.repeat_signs import full_page
from genex.export.xml_techniques import technique_words
from genex.score import Part, Score

MOST_BARS = 160
"""Longer pieces are shown in the page's own tab: engraving takes 8 ms a bar."""

WIDTH_MM = 150


def packed_music(score: Score, language: str = "en") -> dict[str, str] | None:
    """The first line on a neck, else the first line; None where there is none or it is too long."""
    part = studied_part(score)
    if part is None or not part.notes or len(score.timeline.bars) > MOST_BARS:
        return None
    root = parts_document(
        score,
        [part],
        full_page(score.timeline),
        # What the hand does to a string is said in words above it, as on the sheet.
        show_positions=bool(technique_words(part)),
        engraved_in=language,
    )
    systems = placed_systems(root, width_mm=WIDTH_MM)
    data: list[Any] = [
        {
            "svg": system.svg,
            "width": round(system.width_mm, 1),
            "height": round(system.height_mm, 1),
            "places": [[round(960 * beats), round(share, 4)] for beats, share in system.places],
        }
        for system in systems
    ]
    packed = gzip.compress(json.dumps(data, separators=(",", ":")).encode(), 9, mtime=0)
    return {"packed": base64.b64encode(packed).decode("ascii")}


def studied_part(score: Score) -> Part | None:
    """The line that is studied: of the lead parts the first with frets, else the first."""
    fretted = [part for part in score.lead_parts if part.strings]
    return next(iter([*fretted, *score.lead_parts]), None)
