"""Engraved systems for a screen: slim pictures, and what stands where in them at what time.

What only paper or the engraver needs is left out of the pictures; their styles are those of the page
around them, by the classes ``harm``, ``fing``, ``ending`` and ``dir``.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from xml.etree.ElementTree import Element

from genex.errors import GenexError
from genex.export.engraver import engraver
from genex.export.engraving import engrave

_SHEET = re.compile(r'class="definition-scale"[^>]*? viewBox="(-?[\d.]+) \S+ ([\d.]+) ')
_MARGIN = re.compile(r'class="page-margin" transform="translate\((-?[\d.]+),')
_PLACED = re.compile(
    r'<g id="([^"]*)" class="(?:note|rest|mRest)[^"]*">\s*(?:<g [^>]*>\s*)?'
    r'<use [^>]*transform="translate\((-?[\d.]+),'
)
"""A note or rest of the notation staff: tab has digits in place of note heads."""

_UNSEEN = (
    # What the engraver itself hides; marks of sections, which the page around it shows.
    (re.compile(r'<g [^>]*class="section placeholder[^>]*>\s*<ellipse[^>]*/>\s*</g>'), ""),
    (re.compile(r'<g [^>]*class="reh".*?</g>', re.DOTALL), ""),
    (re.compile(r"<desc>.*?</desc>|<style.*?</style>", re.DOTALL), ""),
    (re.compile(r'(?<=<g) id="(?!E[0-9A-F]{3}-)[^"]*"'), ""),
    (re.compile(r'(<(?:tspan|svg)\b[^>]*?) id="[^"]*"'), r"\1"),
    (re.compile(r' class="(?!ending|voltaBracket|fing|dir\b|harm)[^"]*"'), ""),
    (re.compile(r">\s+<"), "><"),
    (re.compile(r" scale\(0\.62, 0\.62\)"), " scale(.62)"),
)


@dataclass(frozen=True, slots=True)
class PlacedSystem:
    """A system for a screen.

    places  each onset that begins in it, in beats from the start of the document, and where it
            stands: its share of the picture's width from the left
    """

    svg: str
    width_mm: float
    height_mm: float
    places: tuple[tuple[float, float], ...]


def placed_systems(musicxml: str | bytes | Element, *, width_mm: float) -> tuple[PlacedSystem, ...]:
    """The systems of a MusicXML document as ``engrave`` has them. Raises GenexError.

    Where staves agree, as notation and tab do, the upper one tells the places.
    """
    systems = engrave(musicxml, width_mm=width_mm)
    onsets: dict[str, float] = {}
    for entry in engraver().renderToTimemap({"includeRests": True}):
        for identifier in (*entry.get("on", ()), *entry.get("restsOn", ())):
            onsets.setdefault(identifier, entry["qstamp"])
    return tuple(
        PlacedSystem(
            _slim(system.svg),
            system.width_mm,
            system.height_mm,
            tuple(sorted(_places(system.svg, onsets).items())),
        )
        for system in systems
    )


def _places(svg: str, onsets: Mapping[str, float]) -> dict[float, float]:
    """Where in a picture the notes and rests of its upper staff stand, by onset."""
    sheet, margin = _SHEET.search(svg), _MARGIN.search(svg)
    if sheet is None or margin is None:
        raise GenexError("the engraver returned a picture without a size")
    left, width = float(sheet[1]), float(sheet[2])
    shift = float(margin[1]) - left
    places: dict[float, float] = {}
    for found in _PLACED.finditer(svg):
        onset = onsets.get(found[1])
        if onset is not None:
            places.setdefault(onset, (shift + float(found[2])) / width)
    return places


def _slim(svg: str) -> str:
    """A picture without what only the engraver needs."""
    for unseen, instead in _UNSEEN:
        svg = unseen.sub(instead, svg)
    return svg
