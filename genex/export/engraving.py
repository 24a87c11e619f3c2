"""MusicXML -> engraved music: one SVG a system, page-wide, for setting into a page.

Verovio engraves; this module chooses what it may use and makes its SVG fit for any typesetter.
Verovio writes some signs in the private code points of its own music font; they become the
characters of Unicode that text fonts have. Identifiers are seeded, so the same music is the same
bytes.

Lengths are millimetres on paper.
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ElementTree
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from genex.errors import GenexError
from genex.export.slide_marks import name_slides, with_slides
from genex.export.typography import with_signs
from genex.lazy import lazy

if TYPE_CHECKING:
    import verovio
else:
    verovio = lazy("verovio")

TEXT_FAMILY = "Linux Libertine O"
"""The family named in the SVG for all words and digits; whoever sets the SVG must have it."""

STAFF_SPACE_MM = 1.55
"""Distance of two staff lines: a staff 6.2 mm high reads well on a music stand [common practice]."""

_PER_MM = 10
"""Verovio measures pages in tenths of a millimetre."""

HANG_MM = 5
"""Room left of the staves, in which bar numbers stand: it hangs into the page's margin."""

_OPTIONS: dict[str, Any] = {
    "adjustPageHeight": True,
    "barLineWidth": 0.25,
    "breaks": "line",  # systems begin where the MusicXML says so, and where they must
    "fingeringScale": 0.7,
    "footer": "none",
    "harmDist": 1.4,
    "header": "none",
    "lyricSize": 4.2,  # of all words: chord symbols, degrees, fingers
    "lyricTopMinMargin": 2.6,
    "minLastJustification": 0.45,
    "mnumInterval": 0,
    "pageHeight": 100,  # room for no more than one system: every page is a system
    "pageMarginBottom": 14,  # digits on the lowest string reach below it
    "pageMarginLeft": HANG_MM * _PER_MM,
    "pageMarginRight": 0,
    "pageMarginTop": 12,
    "scale": 100,
    "spacingStaff": 6.5,
    "svgViewBox": True,
    "xmlIdSeed": 1,
}

SIGNS = {
    "\ue260": "♭",
    "\ue261": "♮",
    "\ue262": "♯",
    "\ue263": "♯♯",
    "\ue264": "♭♭",
    "\ue870": "°",
    "\ue871": "ø",
    "\ue872": "+",
    "\ue873": "Δ",
    "\ue874": "−",
    "\uea63": "♭♭",
    "\uea64": "♭",
    "\uea65": "♮",
    "\uea66": "♯",
    "\uea67": "♯♯",
    "𝄫": "♭♭",
    "𝄪": "♯♯",
    "\ued60": "♭",
    "\ued61": "♮",
    "\ued62": "♯",
    "\ueca5": "♩",
    "\ueca7": "♪",
    "\uecb7": ".",
    "\ue1d5": "♩",
    "\ue1d7": "♪",
    "\ue1e7": ".",
}
"""Code points of music fonts [published: SMuFL 1.4] and what text fonts have in their place."""

_SIGN = re.compile(r'<tspan font-family="[^"]*" font-size="(\d+)px">([\ue000-\uf8ff𝄫𝄪]+)</tspan>')
_SIGN_SCALE = 280 / 640
"""Verovio writes the signs at the size of its music font, 640, next to words of 280."""

_FONT_FACE = re.compile(r'<style type="text/css">@font-face.*?</style>', re.DOTALL)
_BRACE = re.compile(r'<g id="[^"]*" class="grpSym">.*?</g>', re.DOTALL)
_FRET = re.compile(
    r'(class="note">\s*<text x="\d+" y=")(\d+)(" text-anchor="middle" font-size="0px">\s*'
    r'<tspan font-size=")(\d+)px'
)
_FRET_SCALE = 1.2
"""Fret numbers are set this much larger than the engraver does, to be read from a stand."""

_SYLLABLE = re.compile(
    r'(class="syl">\s*<text [^>]*>\s*<tspan id="[^"]*" class="text">\s*<tspan font-size=")(\d+)px'
)
_SYLLABLE_SCALE = 0.84
"""Degrees are set this much smaller, so that ♭♭7 does not meet its neighbour."""

_NUMBER_SCALE = 0.86
_ENDING = re.compile(
    r'(class="voltaBracket">\s*<text [^>]*>\s*<tspan id="[^"]*" class="text">\s*<tspan font-size=")'
    r"(\d+)(px\">)(\d+)<"
)
"""The number of an ending, which the engraver sets without its point."""

_BAR_LINE = re.compile(r'class="barLine">.*?</g>', re.DOTALL)
_THREE_DOTS = re.compile(
    r'(<use [^>]* transform="translate\((\d+), \d+\) [^>]*/>\s*)'
    r'<use [^>]* transform="translate\(\2, \d+\) [^>]*/>\s*'
    r'(<use [^>]* transform="translate\(\2, \d+\) [^>]*/>)'
)
"""Dots of a repeat sign on tab, where two are usual [common practice]."""

_VIEW_BOX = re.compile(r'<svg viewBox="0 0 (\d+) (\d+)"')
_SHEET = re.compile(r'class="definition-scale"[^>]* viewBox="0 0 (\d+) \d+"')
_MARGIN = re.compile(r'class="page-margin" transform="translate\((\d+),')
_PLACED = re.compile(
    r'<g id="([^"]*)" class="(?:note|rest|mRest)[^"]*">\s*(?:<g [^>]*>\s*)?'
    r'<use [^>]*transform="translate\((\d+),'
)
"""A note or rest of the notation staff: tab has digits in place of note heads."""

_UNSEEN = (
    # What the engraver itself hides; marks of sections, which the page around it shows.
    (re.compile(r'<g [^>]*class="section placeholder[^>]*>\s*<ellipse[^>]*/>\s*</g>'), ""),
    (re.compile(r'<g [^>]*class="reh".*?</g>', re.DOTALL), ""),
    (re.compile(r"<desc>.*?</desc>|<style.*?</style>", re.DOTALL), ""),
    (re.compile(r'(?<=<g) id="(?!E[0-9A-F]{3}-)[^"]*"'), ""),
    (re.compile(r'(<(?:tspan|svg)\b[^>]*?) id="[^"]*"'), r"\1"),
    (re.compile(r' class="(?!ending|voltaBracket|fing|dir\b|reh)[^"]*"'), ""),
    (re.compile(r">\s+<"), "><"),
    (re.compile(r" scale\(0\.62, 0\.62\)"), " scale(.62)"),
)
_PRIVATE = re.compile(r"[\ue000-\uf8ff]")


@dataclass(frozen=True, slots=True)
class System:
    """One engraved system as a picture of its size; the staves begin ``HANG_MM`` from its left."""

    svg: str
    width_mm: float
    height_mm: float


@dataclass(frozen=True, slots=True)
class PlacedSystem(System):
    """A slim system for a screen, with the times that begin in it.

    places  each onset in beats from the start of the document, and where it stands: its share of the
            picture's width from the left
    """

    places: tuple[tuple[float, float], ...]


def engrave(
    musicxml: str | bytes,
    *,
    width_mm: float,
    system_starts: Collection[int] | None = None,
    staff_space_mm: float = STAFF_SPACE_MM,
) -> tuple[System, ...]:
    """The systems of a score-partwise MusicXML document, in order.

    ``width_mm`` is that of the staves. ``system_starts`` sets the breaks anew: the indices, from
    0, of bars that begin a system; without it they fall where the document has them and where
    the width ends. Part names, titles, tempo and feel are left to the page around the music, and
    so are rehearsal marks at the beginning of those systems, where they would meet chord symbols.
    Raises GenexError when the music cannot be engraved.
    """
    return tuple(_system(svg) for svg in _engraved(musicxml, width_mm, system_starts, staff_space_mm))


def engrave_with_places(musicxml: str | bytes, *, width_mm: float) -> tuple[PlacedSystem, ...]:
    """As ``engrave``, for a screen: no more than is seen is left in the pictures, whose styles are
    those of the page (classes ``ending``, ``fing`` and ``dir``), and what stands where is told.

    Where staves agree, as notation and tab do, the upper one tells. Raises GenexError.
    """
    pictures = list(_engraved(musicxml, width_mm, None, STAFF_SPACE_MM))
    onsets: dict[str, float] = {}
    for entry in _toolkit().renderToTimemap({"includeRests": True}):
        for identifier in (*entry.get("on", ()), *entry.get("restsOn", ())):
            onsets.setdefault(identifier, entry["qstamp"])
    found = []
    for svg in pictures:
        system = _system(svg)
        places = tuple(sorted(_places(svg, onsets).items()))
        found.append(PlacedSystem(_slim(system.svg), system.width_mm, system.height_mm, places))
    return tuple(found)


def _engraved(
    musicxml: str | bytes,
    width_mm: float,
    system_starts: Collection[int] | None,
    staff_space_mm: float,
) -> Iterator[str]:
    """The engraver's own pictures, a system each."""
    prepared = _prepared(musicxml, system_starts)
    toolkit = _toolkit()
    toolkit.resetOptions()
    toolkit.resetXmlIdSeed(1)
    toolkit.setOptions(
        {
            **_OPTIONS,
            "pageWidth": round((width_mm + HANG_MM) * _PER_MM),
            "unit": staff_space_mm * _PER_MM / 2,
        }
    )
    if not toolkit.loadData(prepared):
        raise GenexError("the engraver could not read the music")
    for page in range(1, toolkit.getPageCount() + 1):
        yield toolkit.renderToSVG(page)


def _places(svg: str, onsets: Mapping[str, float]) -> dict[float, float]:
    """Where in a picture the notes and rests of its upper staff stand, by onset."""
    sheet, margin = _SHEET.search(svg), _MARGIN.search(svg)
    if sheet is None or margin is None:
        raise GenexError("the engraver returned a picture without a size")
    width, left = int(sheet[1]), int(margin[1])
    places: dict[float, float] = {}
    for found in _PLACED.finditer(svg):
        onset = onsets.get(found[1])
        if onset is not None:
            places.setdefault(onset, (left + int(found[2])) / width)
    return places


def _slim(svg: str) -> str:
    """A picture without what only the engraver needs."""
    for unseen, instead in _UNSEEN:
        svg = unseen.sub(instead, svg)
    return svg


@lru_cache(maxsize=1)
def _toolkit() -> Any:
    verovio.enableLog(verovio.LOG_OFF)
    return verovio.toolkit()


def _prepared(musicxml: str | bytes, system_starts: Collection[int] | None) -> str:
    """The document without what the page shows, with the system breaks that are wished."""
    try:
        root = ElementTree.fromstring(musicxml)
    except ElementTree.ParseError as error:
        raise GenexError(f"the engraver was given no MusicXML: {error}") from error
    for name in root.iter("part-name"):
        name.text = ""
    for tag in ("work", "movement-title", "credit", "identification", "defaults"):
        for found in root.findall(tag):
            root.remove(found)
    for measure in root.iter("measure"):
        for direction in list(measure.findall("direction")):
            # Words behind the notes of a bar belong to its bar line: 3x.
            words = direction.find("direction-type/words")
            is_facts = words is not None and words.get("halign") != "right"
            if is_facts or direction.find("direction-type/metronome") is not None:
                measure.remove(direction)
    for harmony in root.iter("harmony"):
        # The symbol as printed names them already; the engraver would print them once more.
        for degree in harmony.findall("degree"):
            harmony.remove(degree)
        for kind in harmony.findall("kind"):
            kind.set("text", with_signs(kind.get("text", "")))
    name_slides(root)
    for note in root.iter("note"):
        # On tab the engraver draws a slide along the string, where it cannot be seen.
        if note.findtext("staff") == "2":
            for notations in note.findall("notations"):
                for slide in notations.findall("slide"):
                    notations.remove(slide)
    for lyric in root.iter("lyric"):
        for text in lyric.iter("text"):
            text.text = with_signs(text.text or "")
    if system_starts is not None:
        for part in root.findall("part"):
            _break_systems(part, {0, *system_starts})
    return ElementTree.tostring(root, encoding="unicode", xml_declaration=True)


def _break_systems(part: ElementTree.Element, starts: Collection[int]) -> None:
    for index, measure in enumerate(part.findall("measure")):
        for found in measure.findall("print"):
            measure.remove(found)
        if index not in starts:
            continue
        for direction in measure.findall("direction"):
            if direction.find("direction-type/rehearsal") is not None:
                measure.remove(direction)
        if index:
            measure.insert(0, ElementTree.Element("print", {"new-system": "yes"}))


def _system(svg: str) -> System:
    size = _VIEW_BOX.search(svg)
    if size is None:
        raise GenexError("the engraver returned a picture without a size")
    plain = _SIGN.sub(_in_unicode, _BRACE.sub("", _FONT_FACE.sub("", svg)))
    plain = _SYLLABLE.sub(lambda m: f"{m[1]}{round(int(m[2]) * _SYLLABLE_SCALE)}px", plain)
    plain = _BAR_LINE.sub(lambda m: _THREE_DOTS.sub(r"\1\3", m[0]), _ENDING.sub(_with_point, plain))
    plain = _FRET.sub(_larger, plain).replace("𝄫", SIGNS["𝄫"]).replace("𝄪", SIGNS["𝄪"])
    plain = plain.replace('font-family="Times, serif"', f'font-family="{TEXT_FAMILY}"')
    plain = with_slides(plain)
    if unknown := _PRIVATE.search(plain):
        raise GenexError(f"the engraver used a sign without a character: U+{ord(unknown[0]):04X}")
    width, height = (int(number) / _PER_MM for number in size.groups())
    return System(plain, width, height)


def _in_unicode(match: re.Match[str]) -> str:
    size = round(int(match[1]) * _SIGN_SCALE)
    text = "".join(SIGNS.get(sign, sign) for sign in match[2])
    return f'<tspan font-size="{size}px">{text}</tspan>'


def _with_point(match: re.Match[str]) -> str:
    return f"{match[1]}{round(int(match[2]) * _NUMBER_SCALE)}{match[3]}{match[4]}.<"


def _larger(match: re.Match[str]) -> str:
    """A fret number grown about its middle, which lies a third of its size above its base."""
    size = int(match[4])
    grown = round(size * _FRET_SCALE)
    return f"{match[1]}{int(match[2]) + round((grown - size) / 3)}{match[3]}{grown}px"
