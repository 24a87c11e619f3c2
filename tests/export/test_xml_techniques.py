"""Hammer-ons, bends and their like as MusicXML, read by another library [package: music21 10.5]."""

from __future__ import annotations

import warnings
import xml.etree.ElementTree as ElementTree

import music21
import pytest

from genex.compose import compose
from genex.export.musicxml import musicxml_text, parts_document
from genex.export.repeat_signs import full_page
from genex.export.xml_measures import document_text
from genex.export.xml_techniques import words_over
from genex.readers.lines.musicxml_line import read_musicxml_line
from genex.recipe import parse_recipe
from genex.score import Bend, Meter
from tests.export.test_musicxml import valid

RECIPE = """\
chords: Am7 | D7 |
key: A minor
parts: exercise
exercise:
  kind: line
  octave: -1
  abc: |
    L:1/4
    (c/d/) !bend!d !half-bend-release!d !vibrato!c | !let-ring!A !let-ring!e !accent!c/.B/ !dead!A |
"""


@pytest.fixture(scope="module")
def score():
    return compose(parse_recipe(RECIPE)).score


@pytest.fixture(scope="module")
def text(score):
    return musicxml_text(score)


def test_technical_elements_of_the_tab(text):
    valid(text)
    root = ElementTree.fromstring(text)
    technical = [one for one in root.iter("technical") if one.find("string") is not None]
    said = [[child.tag for child in one if child.tag not in ("string", "fret")] for one in technical]
    assert said[:4] == [["hammer-on"], ["hammer-on"], ["bend"], ["bend", "bend"]]
    bends = [one.findtext("bend-alter") for one in root.iter("bend")]
    assert bends == ["2", "1", "-1"]
    assert len(list(root.iter("release"))) == 1
    assert [one.get("type") for one in root.iter("slur")] == ["start", "stop"]
    assert [one.get("type") for one in root.iter("wavy-line")] == ["start", "stop"]
    assert sum(one.get("type") == "let-ring" for one in root.iter("tied")) == 2


def test_another_library_reads_them(text):
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        parts = music21.converter.parse(text, format="musicxml").parts
    notes = [note for part in parts for note in part.flatten().notes]
    found = {type(one).__name__ for note in notes for one in note.articulations}
    assert {"FretBend", "Accent", "Staccato", "StringIndication"} <= found


def test_they_are_read_back(score, text):
    (part,) = score.lead_parts
    notes = read_musicxml_line(text.encode(), "line.musicxml", (Meter(4, 4),)).notes
    assert [one.note.bend for one in notes] == [note.bend for note in part.notes]
    assert [one.note.bend for one in notes][2:4] == [Bend(2), Bend(1, releases=True)]
    assert [one.legato for one in notes][:3] == ["", "hammer-on", ""]
    for name in ("vibrato", "rings", "articulation"):
        assert [getattr(one.note, name) for one in notes] == [getattr(n, name) for n in part.notes], name


def test_pages_say_in_words_what_engravers_have_no_sign_for(score):
    (part,) = score.lead_parts
    words = list(words_over(part).values())
    assert [word.split(" ", 1)[-1] for word in words if "full" in word] == ["full"]
    assert "½, back" in words
    assert sum("let ring" in word for word in words) == 1  # of several that ring the first says it
    bars = full_page(score.timeline)
    page = document_text(parts_document(score, (part,), bars, show_positions=True))
    assert "<slur" not in page and "wavy-line" not in page
