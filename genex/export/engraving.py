"""MusicXML -> engraved music: one SVG a system, page-wide, for setting into a page.

Verovio engraves; this module chooses what it may use and makes its SVG fit for any typesetter.
Verovio writes some signs in the private code points of its own music font; they become the
characters of Unicode that text fonts have. Identifiers are seeded, so the same music is the same
bytes.

Lengths are millimetres on paper.
"""

from __future__ import annotations

import copy
import re
import xml.etree.ElementTree as ElementTree
from collections.abc import Collection, Sequence
from typing import Any

from genex.errors import GenexError
from genex.export.engraved_rows import POSITION, UNDERLINE, System, in_rows
from genex.export.engraver import engraver
from genex.export.slide_marks import name_slides, with_slides
from genex.export.tab_layout import string_names
from genex.export.typography import with_signs, xml_safe
from genex.theory import Pitch

TEXT_FAMILY = "Linux Libertine O"
"""The family named in the SVG for all words and digits; whoever sets the SVG must have it."""

STAFF_SPACE_MM = 1.55
"""Distance of two staff lines: a staff 6.2 mm high reads well on a music stand [common practice]."""

_PER_MM = 10
"""Verovio measures pages in tenths of a millimetre."""

HANG_MM = 5
"""Room left of the staves, in which bar numbers stand: it hangs into the page's margin."""

_SPACING_LINEAR = 0.25
"""The engraver's own: how much longer notes are given more room."""

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
_DEAD = re.compile(
    r'(<g id="dead-\d+" class="note">\s*<text [^>]*>\s*<tspan font-size="\d+px">)\d+(</tspan>)'
)
_FRET_SCALE = 1.2
"""Fret numbers are set this much larger than the engraver does, to be read from a stand."""

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

_BOLD = re.compile(r"#\w+ g\.(?:ending|fing), ")
"""What the engraver would set in bold; here chord symbols are alone in that."""

_PRIVATE = re.compile(r"[\ue000-\uf8ff]")


def engrave(
    musicxml: str | bytes | ElementTree.Element,
    *,
    width_mm: float,
    system_starts: Collection[int] | None = None,
    staff_space_mm: float = STAFF_SPACE_MM,
    stretched: bool = False,
    spread: float = 1.0,
) -> tuple[System, ...]:
    """The systems of a score-partwise MusicXML document, as text or as its root, in order.

    ``width_mm`` is that of the staves. ``system_starts`` sets the breaks anew: the indices, from
    0, of bars that begin a system; without it they fall where the document has them and where
    the width ends. ``stretched`` fills the width however little there is. Part names, titles,
    tempo and feel are left to the page around the music, and so are rehearsal marks at the
    beginning of those systems, where they would meet chord symbols. ``spread`` sets notes so many
    times as far apart as is usual; lines that fill the width do not feel it.
    Raises GenexError when the music cannot be engraved.
    """
    root = _prepared(musicxml, system_starts)
    toolkit = engraver()
    toolkit.resetOptions()
    toolkit.resetXmlIdSeed(1)
    toolkit.setOptions(
        {
            **_OPTIONS,
            "pageWidth": round((width_mm + HANG_MM) * _PER_MM),
            "unit": staff_space_mm * _PER_MM / 2,
            "minLastJustification": 0.0 if stretched else _OPTIONS["minLastJustification"],
            "spacingLinear": _SPACING_LINEAR * spread,
        }
    )
    prepared = ElementTree.tostring(root, encoding="unicode", xml_declaration=True)
    if not toolkit.loadData(xml_safe(prepared)):
        raise GenexError("the engraver could not read the music")
    pages = range(1, toolkit.getPageCount() + 1)
    strings = _strings(root)
    return tuple(_system(toolkit.renderToSVG(page), strings) for page in pages)


def _strings(root: ElementTree.Element) -> tuple[str, ...]:
    """The names of the strings of the tab, string 1 first, as tab text has them; none without tab."""
    details = root.find(".//staff-details")
    if details is None:
        return ()
    if names := details.get("names"):
        return tuple(map(with_signs, names.split()))
    tuned = sorted(details.findall("staff-tuning"), key=lambda found: -int(found.get("line", "0")))
    pitches = []
    for string in tuned:
        alter = int(string.findtext("tuning-alter", "0"))
        letter = string.findtext("tuning-step", "C") + ("#" * alter if alter > 0 else "b" * -alter)
        pitches.append(Pitch.parse(letter + string.findtext("tuning-octave", "4")))
    return tuple(with_signs(name) for name in string_names(pitches))


def _prepared(
    musicxml: str | bytes | ElementTree.Element, system_starts: Collection[int] | None
) -> ElementTree.Element:
    """The document without what the page shows, with the system breaks that are wished."""
    if isinstance(musicxml, ElementTree.Element):
        root = copy.deepcopy(musicxml)
    else:
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
            is_facts = words is not None and words.get("halign") is None
            if words is not None and words.get("halign") == "center":
                words.text = f"{POSITION}{words.text}"
            if is_facts or direction.find("direction-type/metronome") is not None:
                measure.remove(direction)
    for harmony in root.iter("harmony"):
        # The symbol as printed names them already; the engraver would print them once more.
        for degree in harmony.findall("degree"):
            harmony.remove(degree)
        for kind in harmony.findall("kind"):
            kind.set("text", with_signs(kind.get("text", "")))
    for measure in root.iter("measure"):
        _leave_out_names_of_chords(measure)
    name_slides(root)
    _name_dead(root)
    for note in root.iter("note"):
        # On tab the engraver draws a slide along the string, where it cannot be seen.
        if note.findtext("staff") == "2":
            for notations in note.findall("notations"):
                for slide in notations.findall("slide"):
                    notations.remove(slide)
    for lyric in root.iter("lyric"):
        for text in lyric.iter("text"):
            text.text = with_signs(text.text or "") + UNDERLINE * (text.get("underline") == "1")
    if system_starts is not None:
        for part in root.findall("part"):
            _break_systems(part, {0, *system_starts})
    return root


def _leave_out_names_of_chords(measure: ElementTree.Element) -> None:
    """Take out the name of a section that says no more than the chord symbol beside it."""
    harmony = measure.find("harmony")
    if harmony is None:
        return
    sign = {"-1": "♭", "1": "♯"}.get(harmony.findtext("root/root-alter", ""), "")
    kind = harmony.find("kind")
    symbol = harmony.findtext("root/root-step", "") + sign
    symbol += "" if kind is None else kind.get("text", "")
    for direction in measure.findall("direction"):
        name = direction.findtext("direction-type/rehearsal", "")
        if len(name) > 1 and with_signs(name) == symbol:
            measure.remove(direction)


def _name_dead(root: ElementTree.Element) -> None:
    """Give names to the dead notes on tab, whose numbers become crosses: the engraver has none."""
    for number, note in enumerate(root.iter("note")):
        if note.findtext("staff") == "2" and note.findtext("notehead") == "x" and not note.get("id"):
            note.set("id", f"dead-{number}")


def _break_systems(part: ElementTree.Element, starts: Collection[int]) -> None:
    behind_pickup = False
    for index, measure in enumerate(part.findall("measure")):
        for found in measure.findall("print"):
            measure.remove(found)
        begins = index in starts or behind_pickup
        behind_pickup = measure.get("implicit") == "yes"
        if not begins:
            continue
        for direction in measure.findall("direction"):
            if direction.find("direction-type/rehearsal") is not None:
                measure.remove(direction)
        if index and index in starts:
            measure.insert(0, ElementTree.Element("print", {"new-system": "yes"}))


def _system(svg: str, strings: Sequence[str]) -> System:
    plain = _SIGN.sub(_in_unicode, _BRACE.sub("", _FONT_FACE.sub("", svg)))
    plain = _BAR_LINE.sub(lambda m: _THREE_DOTS.sub(r"\1\3", m[0]), _ENDING.sub(_with_point, plain))
    plain = _DEAD.sub(r"\1x\2", plain)
    plain = _FRET.sub(_larger, plain).replace("𝄫", SIGNS["𝄫"]).replace("𝄪", SIGNS["𝄪"])
    plain = _BOLD.sub("", plain).replace('font-family="Times, serif"', f'font-family="{TEXT_FAMILY}"')
    plain = with_slides(plain)
    if unknown := _PRIVATE.search(plain):
        raise GenexError(f"the engraver used a sign without a character: U+{ord(unknown[0]):04X}")
    return in_rows(plain, strings)


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
