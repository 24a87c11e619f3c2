"""Handouts, read back from their PDF by pypdf and from the data that templates set."""

from __future__ import annotations

import io
import re
import string
from dataclasses import replace
from fractions import Fraction

import pypdf
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from genex import compose_recipe
from genex.compose import compose
from genex.exercises import Player
from genex.exercises.models.comping import Grips
from genex.export.handout import BLOCKS, HandoutSettings, Letterhead, handout_pdf, handout_pngs
from genex.export.handout.content import lines_block
from genex.export.handout.settings import LARGE_PT, LARGE_SETTING, SETTINGS, text_width_mm
from genex.lines.comping import grips_through
from genex.recipe import parse_recipe
from genex.score import Score, TempoChange, TempoMap
from tests.export.builders import fretted, lead, small_score, timeline
from tests.export.handout.sheets import FILLED_IN, MARKUP, ONLY_CHART, block, empty, pages, squeezed
from tests.export.handout.tagged import type_sizes


def test_title_key_meter_tempo_and_feel_head_the_first_page() -> None:
    text = pages(handout_pdf(empty("Gm7 | D7", key="G minor", tempo=126), ONLY_CHART))[0]
    facts = "G minor · 4/4 · ♩ = 126 · Medium swing · tuning E A D G B E"
    assert text.splitlines()[:2] == ["Lamps on the Canal", facts]


def test_cut_time_is_counted_in_half_notes() -> None:
    """[common practice]"""
    text = pages(handout_pdf(empty("Gm7", meter="2/2", tempo=132), ONLY_CHART))[0]
    assert "2/2 · half = 66" in text


def test_tempos_of_compound_meters_count_dotted_quarters() -> None:
    text = pages(handout_pdf(empty("Gm7", meter="12/8", tempo=90), ONLY_CHART))[0]
    assert "12/8 · ♩. = 60" in text


def test_a_changing_tempo_shows_both_ends() -> None:
    changes = TempoMap((TempoChange(Fraction(0), Fraction(80)), TempoChange(Fraction(8), Fraction(100))))
    text = pages(handout_pdf(empty("Gm7 | C7 | F", tempo_map=changes), ONLY_CHART))[0]
    assert "♩ = 80 – 100" in text


def test_the_chart_has_every_chord_in_order() -> None:
    chart = "Gm7 | Am7b5 D7b9 | Bbmaj7 | N.C. | C#dim7 | F7sus4 | Eb/G | CΔ7"
    text = pages(handout_pdf(empty(chart), ONLY_CHART))[0]
    wanted = "Gm7Am7♭5D7♭9B♭maj7N.C.C♯dim7F7sus4E♭/GCΔ7"
    assert wanted in squeezed(text)


def test_every_page_has_its_number() -> None:
    found = pages(handout_pdf(empty(" | ".join(["Gm7", "C7"] * 128), sections=[("A", 256)])))
    assert len(found) > 2
    for number, text in enumerate(found, start=1):
        assert text.splitlines()[-1].endswith(f"page {number} of {len(found)}")


def test_all_blocks_stand_in_the_outline_in_their_order() -> None:
    reader = pypdf.PdfReader(io.BytesIO(handout_pdf(small_score())))
    titles = [entry.title for entry in reader.outline if not isinstance(entry, list)]
    assert titles == ["Chart", "Exercise", "Practice", "Shapes", "Hands and ears"]
    assert reader.metadata is not None and reader.metadata.title == "Lamps on the Canal"


@pytest.mark.parametrize("kind", BLOCKS)
def test_every_block_can_be_had_alone(kind: str) -> None:
    score = small_score()
    if kind == "grips":
        part = grips_through(score.timeline, Grips(), Player())
        score = replace(score, parts=(part,))
    assert block(score, kind, worksheet=FILLED_IN)
    settings = HandoutSettings(blocks=(kind,), worksheet=FILLED_IN)  # type: ignore[arg-type]
    assert pages(handout_pdf(score, settings))


def test_a_sheet_without_blocks_still_has_its_head() -> None:
    assert "Lamps on the Canal" in pages(handout_pdf(small_score(), HandoutSettings(blocks=())))[0]


def test_a_score_without_lines_has_chart_and_shapes() -> None:
    text = "\n".join(pages(handout_pdf(empty("Gm7 | C7"))))
    assert "Chart" in text and "Shapes" in text
    assert "Exercise" not in text


def test_frets_and_fingers_of_the_line_are_on_the_page() -> None:
    places = [(4, 5), (3, 7), (2, 13), (1, 11)]
    notes = [fretted(index, 1, *place, 3) for index, place in enumerate(places)]
    score = Score("T", "swing", timeline("Gm7"), (lead(notes),))
    text = pages(handout_pdf(score, HandoutSettings(blocks=("lines",))))[0]
    digits = re.findall(r"\d+", text.split("underlined.")[1])
    assert {"5", "7", "13", "11"} <= set(digits)
    assert digits.count("3") >= len(places)


def test_the_caution_sends_to_clinician_and_teacher() -> None:
    text = " ".join("\n".join(pages(handout_pdf(small_score()))).split())
    assert "see a clinician before you play on" in text
    assert "Your teacher's word goes before this sheet" in text


def test_markup_in_a_title_prints_as_it_is() -> None:
    text = pages(handout_pdf(empty("Gm7", MARKUP), ONLY_CHART))[0]
    assert squeezed(MARKUP) in squeezed(text)


def test_a_title_of_three_hundred_characters_sets() -> None:
    title = (MARKUP * 4)[:300]
    text = pages(handout_pdf(empty("Gm7", title), ONLY_CHART))[0]
    assert squeezed(title) in squeezed(text)
    one_word = "x" * 300
    assert squeezed(pages(handout_pdf(empty("Gm7", one_word), ONLY_CHART))[0]).count("x") >= 300


@settings(max_examples=25, deadline=None)
@given(st.text(string.printable, min_size=1, max_size=80))
def test_any_printable_title_prints_as_it_is(title: str) -> None:
    text = pages(handout_pdf(empty("Gm7", title), ONLY_CHART))[0]
    assert squeezed(title) in squeezed(text)


def test_section_names_print_as_they_are() -> None:
    score = empty("Gm7 | C7", sections=[("#let x = 1", 1), ("*B* \\", 1)])
    text = squeezed(pages(handout_pdf(score, ONLY_CHART))[0])
    assert "#letx=1" in text and "*B*\\" in text


def test_titles_in_greek_cyrillic_and_accented_latin_set() -> None:
    title = "Ζωή Дождь Žluťoučký Ærø ½ ☂"
    assert squeezed(title) in squeezed(pages(handout_pdf(empty("Gm7", title), ONLY_CHART))[0])


def test_sixty_four_sections_set() -> None:
    names = [(f"Part {number}", 2) for number in range(1, 65)]
    found = "\n".join(
        pages(handout_pdf(empty(" | ".join(["Gm7 C7", "F"] * 64), sections=names), ONLY_CHART))
    )
    assert all(f"Part {number} Gm7 C7 F" in found for number in range(1, 65))


def test_a_chord_of_seven_alterations_sets_and_keeps_its_symbol() -> None:
    symbol = "C7(b5,#5,b9,#9,#11,b13)"
    found = "\n".join(pages(handout_pdf(empty(f"{symbol} {symbol} | Fm"))))
    assert squeezed(found).count("C7(♭5,♯5,♭9,♯9,♯11,♭13)") >= 3
    (section,) = block(empty(f"{symbol} {symbol} | Fm"), "chart")["sections"]
    assert section["columns"] < 4


def test_a_second_run_is_the_same_bytes() -> None:
    first = handout_pdf(small_score())
    handout_pdf(empty("Gm7"))
    assert handout_pdf(small_score()) == first


def test_the_file_does_not_tell_when_it_was_made() -> None:
    document = handout_pdf(empty("Gm7"), ONLY_CHART)
    assert not re.search(rb"(CreationDate|ModDate)[^>/]*20\d\d", document)
    metadata = pypdf.PdfReader(io.BytesIO(document)).metadata
    assert metadata is not None
    assert all(
        date is None or date.year == 1970
        for date in (metadata.creation_date, metadata.modification_date)
    )


@pytest.mark.parametrize(("paper", "size_mm"), [("a4", (210.0, 297.0)), ("letter", (215.9, 279.4))])
def test_paper_sizes(paper: str, size_mm: tuple[float, float]) -> None:
    # [published: ISO 216; ANSI/ASME Y14.1]
    choices = HandoutSettings(paper=paper, blocks=("chart",))  # type: ignore[arg-type]
    box = pypdf.PdfReader(io.BytesIO(handout_pdf(empty("Gm7"), choices))).pages[0].mediabox
    assert (float(box.width), float(box.height)) == pytest.approx(
        tuple(side * 72 / 25.4 for side in size_mm), abs=0.5
    )


def test_all_fonts_are_embedded_and_ours() -> None:
    reader = pypdf.PdfReader(io.BytesIO(handout_pdf(small_score())))
    names = set()
    for page in reader.pages:
        for reference in page["/Resources"].get("/Font", {}).values():
            (inner,) = reference.get_object()["/DescendantFonts"]
            descriptor = inner.get_object()["/FontDescriptor"]
            assert {"/FontFile2", "/FontFile3"} & set(descriptor)
            names.add(str(descriptor["/FontName"]).split("+")[-1].split("-")[0].lstrip("/"))
    assert names <= {"LinLibertineO", "LinLibertineOB", "LinLibertineOI", "DejaVuSans"}


def test_no_glyph_is_missing_on_any_page() -> None:
    text = "".join(pages(handout_pdf(empty("CΔ7 | Bø7 | F#dim7 | Bbm7b5 | C△7 | Ab°7"))))
    assert "\ufffd" not in text and "\x00" not in text


def test_pictures_have_as_many_pages_as_the_pdf() -> None:
    images = handout_pngs(small_score(), dots_per_inch=40)
    assert len(images) == len(pages(handout_pdf(small_score())))
    assert all(image.startswith(b"\x89PNG\r\n") for image in images)
    assert images == handout_pngs(small_score(), dots_per_inch=40)


def test_a_sheet_with_endings_sets_on_both_papers() -> None:
    chart = "|: Dm7 | G7 | [1. C | A7 :| [2. C6 | Bb13(b9,#11)/Gb F7(b5,b9) | |: Fm7 | Bb7 :|x3"
    score = compose(parse_recipe(f"chords: '{chart}'\nkey: C\nexercise: arpeggio")).score
    for paper in ("a4", "letter"):
        found = "\n".join(pages(handout_pdf(score, HandoutSettings(paper=paper))))
        assert {"1.", "2.", "3x"} <= set(found.split())


@pytest.mark.parametrize("chart", ["Dm7 | G7 | Cmaj7 | A7 | " * 2, "Dm7 G7 | Cmaj7 A7 | " * 4])
def test_a_lesson_of_eight_bars_is_one_sheet_front_and_back(chart: str) -> None:
    exercise = "exercise: {kind: etude, level: 4}\nguide: {rhythm: whole}"
    score = compose_recipe(parse_recipe(f"chords: '{chart.strip(' |')}'\n{exercise}")).score
    assert len(pages(handout_pdf(score, SHEET))) <= 2


SHEET = HandoutSettings(blocks=("chart", "lines", "practice", "care"))


@pytest.mark.parametrize("paper", ["a4", "letter"])
def test_large_print_has_no_type_under_fourteen_points(paper: str) -> None:
    """Read off the pages; the normal sheet, whose fingers have 8 points, shows that it can fail."""
    head = Letterhead(
        school="Evening School", teacher="Guitar", licence="CC BY 4.0", link="https://a.test"
    )
    chosen = HandoutSettings(paper=paper, worksheet=FILLED_IN, letterhead=head)  # type: ignore[arg-type]
    score = small_score()
    found = type_sizes(handout_pdf(score, replace(chosen, large_print=True)))
    assert min(found) >= LARGE_PT, found[min(found)]
    if paper == "a4":
        assert min(type_sizes(handout_pdf(score, chosen))) < 8


def test_large_print_has_large_meters_keys_and_tempos_in_its_chart() -> None:
    score = compose(
        parse_recipe(
            'sections: {A: "G | (3/4) D7", B: {chords: "F | C", key: F, tempo: 80, meter: 6/8}}\n'
            "form: A B\nkey: G\nparts: guide\n"
        )
    ).score
    sheet = handout_pdf(score, HandoutSettings(blocks=("chart",), large_print=True))
    text = "\n".join(pages(sheet))
    assert all(told in text for told in ("3/4", "6/8", "F major", "80"))
    found = type_sizes(sheet)
    assert min(found) >= LARGE_PT, found[min(found)]


def test_large_print_has_a_staff_to_match() -> None:
    """[memory] Large music is engraved at one and a half times the usual staff and more."""
    score = small_score()
    normal, large = (
        lines_block(score, HandoutSettings(), setting) for setting in (SETTINGS[0], LARGE_SETTING)
    )
    assert normal is not None and large is not None
    sizes = [block["parts"][0]["systems"][0]["hang_mm"] for block in (normal, large)]
    assert sizes[1] / sizes[0] == pytest.approx(LARGE_SETTING.growth)
    assert LARGE_SETTING.growth >= 1.5
    widest = text_width_mm("a4") + large["parts"][0]["systems"][0]["hang_mm"]
    assert all(s["width_mm"] <= widest + 1 for part in large["parts"] for s in part["systems"])
