"""Engraved systems, read back from their SVG."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ElementTree
from dataclasses import replace
from fractions import Fraction

import pytest

from genex.errors import GenexError
from genex.export.engraved_rows import System
from genex.export.engraving import HANG_MM, SIGNS, engrave
from genex.export.musicxml import musicxml_text
from genex.score import RepeatSpan, Score, Slide
from tests.export.builders import fretted, lead, small_score, timeline

SVG = "{http://www.w3.org/2000/svg}"


def one_line(places: list[tuple[int, int]], chart: str = "Gm7", **more: object) -> Score:
    notes = [fretted(f"{index}/2", "1/2", *place, 1) for index, place in enumerate(places)]
    return Score("A title", "swing", timeline(chart, **more), (lead(notes),))  # type: ignore[arg-type]


def engraved(score: Score, **more: object) -> tuple[System, ...]:
    return engrave(musicxml_text(score, show_degrees=True), width_mm=170, **more)  # type: ignore[arg-type]


def words(system: System, kind: str) -> list[str]:
    """The texts of all groups of a class, in the order of the drawing."""
    root = ElementTree.fromstring(system.svg)
    groups = [group for group in root.iter(f"{SVG}g") if group.get("class") == kind]
    return ["".join("".join(group.itertext()).split()) for group in groups]


def test_every_fret_stands_on_the_tab_staff_in_order() -> None:
    places = [(6, 3), (5, 5), (4, 12), (3, 7), (2, 0), (1, 22), (2, 8), (3, 10)]
    (system,) = engraved(one_line(places))
    assert words(system, "tabGrp") == [str(fret) for _, fret in places]


def test_a_fret_number_lies_on_the_line_of_its_string() -> None:
    (system,) = engraved(one_line([(string, 5) for string in (1, 2, 3, 4, 5, 6)]))
    tab = system.svg[system.svg.index('class="tabGrp"') :]
    found = re.findall(
        r'class="note">\s*<text x="\d+" y="(\d+)".*?<tspan font-size="(\d+)px"', tab, re.DOTALL
    )
    # Digits are about two thirds of their size high.
    middles = [int(y) - int(size) / 3 for y, size in found]
    lines = [
        {int(y) for y in re.findall(r'<path d="M\d+ (\d+) L\d+ \1"', staff)}
        for staff in re.split(r'<g id="[^"]*" class="staff">', system.svg)[1:]
    ]
    strings = sorted(lines[1])[:6]
    gap = strings[1] - strings[0]
    assert len(middles) == 6
    assert all(abs(middle - line) < 0.1 * gap for middle, line in zip(middles, strings, strict=True))


def test_fingers_stand_on_the_notation_staff_only() -> None:
    (system,) = engraved(one_line([(4, 5), (3, 7)]))
    assert words(system, "fing") == ["1", "1"]


def test_chord_symbols_are_printed_as_the_chart_writes_them_with_musical_signs() -> None:
    (system,) = engraved(one_line([(4, 5)], "Bbm7b5 | C7(b9,#11) | F#maj7 | Eb/G"))
    assert words(system, "harm") == ["B♭m7♭5", "C7(♭9,♯11)", "F♯maj7", "E♭/G"]


def test_other_signs_of_chord_symbols_reach_the_page() -> None:
    (system,) = engraved(one_line([(4, 5)], "CΔ7 | Bø7 | G°7 | Bbbmaj7"))
    assert words(system, "harm") == ["CΔ7", "Bø7", "G°7", "B♭♭maj7"]


def test_no_character_of_a_music_font_is_left() -> None:
    for system in engraved(one_line([(4, 5)], "Bbm7b5 | Ebb7 | F#°7 | N.C.", tempo=96)):
        assert not re.search(r"[\ue000-\uf8ff𝄫𝄪]", system.svg)
    assert all(not re.search(r"[\ue000-\uf8ff]", plain) for plain in SIGNS.values())


def test_title_part_name_tempo_and_feel_are_left_to_the_page() -> None:
    (system,) = engraved(one_line([(4, 5)]))
    text = "".join(ElementTree.fromstring(system.svg).itertext())
    assert not any(word in text for word in ("title", "exercise", "swing", "120"))


def test_systems_begin_at_the_bars_that_are_named() -> None:
    score = one_line([(4, 5)] * 48, " | ".join(["Gm7"] * 6))
    systems = engraved(score, system_starts=(0, 1, 3))
    assert [len(words(system, "tabGrp")) for system in systems] == [8, 16, 24]


def test_a_line_too_long_for_the_width_goes_on_in_more_systems() -> None:
    score = one_line([(4, 5)] * 96, " | ".join(["Gm7"] * 12))
    systems = engraved(score, system_starts=(0,))
    assert len(systems) > 1
    assert sum(len(words(system, "tabGrp")) for system in systems) == 96


def test_systems_are_as_wide_as_the_page_and_the_margin_for_bar_numbers() -> None:
    for system in engraved(small_score()):
        assert system.width_mm == pytest.approx(170 + HANG_MM, abs=0.1)
        assert 20 < system.height_mm < 60
        assert f'viewBox="0 0 {system.width_mm * 10:.0f} {system.height_mm * 10:.0f}"' in system.svg


def test_a_section_that_begins_inside_a_system_keeps_its_mark() -> None:
    score = one_line([(4, 5)] * 32, " | ".join(["Gm7"] * 4), sections=[("A", 1), ("B", 3)])
    (system,) = engraved(score, system_starts=(0,))
    assert words(system, "reh") == ["B"]
    first, second = engraved(score, system_starts=(0, 1))
    assert words(first, "reh") == words(second, "reh") == []


def test_a_section_that_is_named_by_its_chord_has_no_mark_beside_the_symbol() -> None:
    score = one_line(
        [(4, 5)] * 32, "Gm7 | Bb7 | Bb7 | C7", sections=[("Gm7", 1), ("Bb7", 2), ("Coda", 1)]
    )
    systems = engraved(score, system_starts=(0,))
    assert [mark for system in systems for mark in words(system, "reh")] == ["Coda"]


def test_a_slide_is_drawn_on_the_notation_staff_only() -> None:
    notes = [
        fretted(0, 1, 4, 5, 1),
        fretted(1, 1, 4, 7, 1, slide=Slide(-2, Fraction(1, 4))),
        fretted(2, 2, 3, 7, 3),
    ]
    score = Score("T", "swing", timeline("Gm7"), (lead(notes),))
    (system,) = engraved(score)
    assert len(words(system, "gliss slide")) == 1


def test_endings_stand_in_brackets_and_repeat_signs_have_two_dots_a_staff() -> None:
    made = timeline("Gm7 | C7 | Gm7 | D7")
    repeat = RepeatSpan(Fraction(0), Fraction(4), (Fraction(4),) * 2)
    notes = [fretted(at, 4, 3, 5, 1) for at in (0, 4, 8, 12)]
    score = Score("T", "swing", replace(made, repeats=(repeat,)), (lead(notes),))
    (system,) = engrave(musicxml_text(score, fold_repeats=True), width_mm=170)
    assert re.findall(r">(\d\.)</tspan>", system.svg) == ["1.", "2."]
    signs = re.findall(r'class="barLine">.*?</g>', system.svg, re.DOTALL)
    assert sorted(sign.count("<use") for sign in signs)[-2:] == [4, 4]


def test_a_passage_played_three_times_says_so_above_the_staff() -> None:
    made = timeline("Gm7 | Gm7 | Gm7 | D7")
    repeat = RepeatSpan(Fraction(0), Fraction(4), (Fraction(0),) * 3)
    notes = [fretted(at, 4, 3, 5, 1) for at in (0, 4, 8, 12)]
    score = Score("T", "swing", replace(made, repeats=(repeat,)), (lead(notes),))
    (system,) = engrave(musicxml_text(score, fold_repeats=True), width_mm=170)
    assert words(system, "dir") == ["3x"]


def test_a_smaller_staff_is_smaller() -> None:
    large = engraved(small_score(), staff_space_mm=1.8)
    small = engraved(small_score(), staff_space_mm=1.2)
    assert sum(s.height_mm for s in small) < sum(s.height_mm for s in large)


def test_the_same_music_is_the_same_picture_whatever_was_engraved_before() -> None:
    first = [system.svg for system in engraved(small_score())]
    engraved(one_line([(4, 5)] * 30, " | ".join(["Gm7"] * 4)))
    assert [system.svg for system in engraved(small_score())] == first


def test_a_short_line_is_the_same_picture_without_a_search_for_breaks() -> None:
    score = one_line([(6, 3), (5, 5), (4, 12), (3, 7), (2, 0), (1, 22), (2, 8), (3, 10)] * 2, "Gm7 | C7")
    pictures = [
        [system.paper_svg for system in engraved(score, system_starts=(0,), is_short=short)]
        for short in (False, True)
    ]
    assert pictures[0] == pictures[1] and len(pictures[0]) == 1


def test_what_is_no_music_is_refused() -> None:
    with pytest.raises(GenexError, match="no MusicXML"):
        engrave("this is text", width_mm=170)
    with pytest.raises(GenexError, match="could not read"):
        engrave("<html/>", width_mm=170)
