"""Slides that the engraver leaves out: from nowhere into a note, and all of them on tab.

The engraver draws a slide between two notes of the notation staff only. Notes that are reached by
a slide are named in the MusicXML before it is engraved, and found again in the picture by those
names. What is drawn is a slanted stroke before a note or fret number, or from number to number:
rising for a slide from below, falling for one from above [common practice].
"""

from __future__ import annotations

import re
import xml.etree.ElementTree as ElementTree
from collections.abc import Iterator

_NAMED = 'id="slide-'
_NOTE = re.compile(
    r'[ \t]*<g id="slide-(?P<towards>up|down|off)-(?P<note>\d+)-(?P<before>\d+)" class="note">.*?</g>',
    re.DOTALL,
)
"""Which way, the note's number, and that of the note it comes from, 0 for none."""

_NUMBER = re.compile(r'<text x="(\d+)" y="(\d+)".*?font-size="(\d+)px">(\d+)', re.DOTALL)
_ACCIDENTAL = re.compile(r'class="accid">\s*<use [^>]* transform="translate\((\d+), ')
_PLACE = re.compile(r'transform="translate\((\d+), (\d+)\)')

_STROKE, _WIDTH = 170, 22
"""Length and width of a stroke from nowhere, in the engraver's units, a hundredth of a millimetre."""

_SHORT_STROKE = 120
"""That before an accidental, for which there is less room behind a bar line."""

_CLEAR = 115
"""From the middle of a fret number of one digit to a stroke."""

_DIGIT = 70
"""How much farther it begins for each further digit."""

_RISE = 85
"""Half of the height of a stroke on tab, where two strings are 270 apart."""


def name_slides(root: ElementTree.Element) -> None:
    """Give a name to every note of a score-partwise document whose slide is to be drawn here."""
    number = 0
    for part in root.findall("part"):
        before: tuple[int, ElementTree.Element] | None = None
        for staff, tab in _written(part):
            number += 2
            towards = _from_nowhere(staff)
            if towards:
                staff.set("id", f"slide-{towards}-{number}-0")
            if tab is None:
                continue
            kinds = {slide.get("type") for slide in tab.iter("slide")}
            if "stop" in kinds and before is not None:
                towards = "up" if _fret(before[1]) < _fret(tab) else "down"
                tab.set("id", f"slide-{towards}-{number + 1}-{before[0]}")
            elif towards or "start" in kinds:
                tab.set("id", f"slide-{towards or 'off'}-{number + 1}-0")
            if "start" in kinds:
                before = number + 1, tab


def _written(
    part: ElementTree.Element,
) -> Iterator[tuple[ElementTree.Element, ElementTree.Element | None]]:
    """Each note of the notation staff with the same note on the tab staff, if there is one."""
    for measure in part.findall("measure"):
        notes = measure.findall("note")
        tab = [note for note in notes if note.findtext("staff") == "2"]
        staff = [note for note in notes if note.findtext("staff") != "2"]
        if tab:
            yield from zip(staff, tab, strict=False)
        else:
            yield from ((note, None) for note in staff)


def _from_nowhere(note: ElementTree.Element) -> str:
    if note.find("notations/articulations/scoop") is not None:
        return "up"
    return "down" if note.find("notations/articulations/plop") is not None else ""


def _fret(note: ElementTree.Element) -> int:
    return int(note.findtext("notations/technical/fret", "0"))


def with_slides(svg: str) -> str:
    """An engraved system with the strokes of the notes that ``name_slides`` has named."""
    if _NAMED not in svg:
        return svg
    numbers: dict[str, int] = {}

    def drawn(match: re.Match[str]) -> str:
        number = _NUMBER.search(match[0])
        if number:
            numbers[match["note"]] = int(number[1]) + _clear(number) - _CLEAR
        if match["towards"] == "off":
            return match[0]
        rises = 1 if match["towards"] == "up" else -1
        if number:
            return _on_tab(number, numbers.get(match["before"]), rises) + match[0]
        # Behind the head that is found come stem and accidental, up to the next note.
        end = svg.find('class="note"', match.end())
        return _on_staff(svg[match.start() : end], rises) + match[0]

    return _NOTE.sub(drawn, svg)


def _on_tab(number: re.Match[str], before: int | None, rises: int) -> str:
    """``before`` is where the number stands that it slides from, if that is in the same system."""
    x, y, size = (int(found) for found in number.groups()[:3])
    middle, end = y - size // 3, x - _clear(number)
    start = end - _STROKE if before is None else min(before + _CLEAR, end - _STROKE // 2)
    return _path(start, middle + rises * _RISE, end, middle - rises * _RISE)


def _clear(number: re.Match[str]) -> int:
    return _CLEAR + _DIGIT * (len(number[4]) - 1)


def _on_staff(note: str, rises: int) -> str:
    head = _PLACE.search(note)
    if head is None:
        return ""
    x, y = int(head[1]), int(head[2])
    accidental = _ACCIDENTAL.search(note)
    if accidental:
        x = min(x, int(accidental[1]))
    end, length = x - 40, _SHORT_STROKE if accidental else _STROKE
    return _path(end - length, y + rises * 110, end, y + rises * 20)


def _path(x1: int, y1: int, x2: int, y2: int) -> str:
    return (
        f'<path class="slide" d="M{x1} {y1} L{x2} {y2}" stroke-width="{_WIDTH}" '
        'stroke-linecap="round" />\n'
    )
