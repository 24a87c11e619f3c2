"""Handouts, read back from their PDF by pypdf and from the data that templates set."""

from __future__ import annotations

import io
import json
import re
import string
from dataclasses import replace
from fractions import Fraction
from typing import Any

import pypdf
import pytest
from fontTools.ttLib import TTFont
from hypothesis import given, settings
from hypothesis import strategies as st

from genex.compose import compose
from genex.errors import GenexError, InputError
from genex.export.handout import BLOCKS, HandoutSettings, handout_pdf, handout_pngs, typeset
from genex.export.handout.content import handout_data
from genex.export.phrases import LANGUAGES
from genex.fretboard import STANDARD, TUNINGS, chord_shapes
from genex.recipe import parse_recipe
from genex.score import Score, TempoChange, TempoMap
from genex.theory import parse_chord
from tests.export.builders import fretted, lead, small_score, timeline

ONLY_CHART = HandoutSettings(blocks=("chart",))
MARKUP = (
    r"Rain #on $x^2$ the \roof *bold* _it_ `code` @ref <label> [b] #panic() // = - + / ~ -- ... 'q' "
)


def pages(document: bytes) -> list[str]:
    return [page.extract_text() for page in pypdf.PdfReader(io.BytesIO(document)).pages]


def squeezed(text: str) -> str:
    """Without white space, which a PDF keeps only as distances."""
    return re.sub(r"\s+", "", text)


def empty(chart: str, title: str = "Lamps on the Canal", **more: object) -> Score:
    return Score(title, "Medium swing", timeline(chart, **more), ())  # type: ignore[arg-type]


def block(score: Score, kind: str, **choices: Any) -> dict[str, Any]:
    data = handout_data(score, HandoutSettings(blocks=(kind,), **choices))  # type: ignore[arg-type]
    (found,) = data["blocks"]
    assert found["kind"] == kind
    return dict(found)


# ------------------------------------------------------------------ what the pages say


def test_title_key_meter_tempo_and_feel_head_the_first_page() -> None:
    text = pages(handout_pdf(empty("Gm7 | D7", key="G minor", tempo=126), ONLY_CHART))[0]
    assert text.splitlines()[:2] == ["Lamps on the Canal", "G minor · 4/4 · ♩ = 126 · Medium swing"]


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
    assert titles == ["Chart", "Practice", "Hands and ears", "Exercise", "Shapes"]
    assert reader.metadata is not None and reader.metadata.title == "Lamps on the Canal"


@pytest.mark.parametrize("kind", BLOCKS)
def test_every_block_can_be_had_alone(kind: str) -> None:
    assert block(small_score(), kind)
    assert pages(handout_pdf(small_score(), HandoutSettings(blocks=(kind,))))  # type: ignore[arg-type]


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
    digits = re.findall(r"\d+", text.split("chord.")[1])
    assert {"5", "7", "13", "11"} <= set(digits)
    assert digits.count("3") >= len(places)


def test_the_caution_sends_to_clinician_and_teacher() -> None:
    text = " ".join("\n".join(pages(handout_pdf(small_score()))).split())
    assert "see a clinician before you play on" in text
    assert "Your teacher's word goes before this sheet" in text


# ------------------------------------------------------------------ what users write


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


def test_a_character_without_a_glyph_is_named() -> None:
    with pytest.raises(InputError, match="no '雨'") as caught:
        handout_pdf(empty("Gm7", "Rain 雨"), ONLY_CHART)
    assert caught.value.hint is not None and "other letters" in caught.value.hint


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


def test_an_unknown_language_is_refused() -> None:
    with pytest.raises(InputError, match="no texts in the language"):
        handout_pdf(small_score(), HandoutSettings(language="xx"))


def test_every_language_has_the_keys_of_english() -> None:
    assert all(table.keys() == LANGUAGES["en"].keys() for table in LANGUAGES.values())


# ------------------------------------------------------------------ chart


def bars_in(section: dict[str, Any]) -> list[dict[str, Any]]:
    return [bar for row in section["rows"] for bar in row["bars"]]


def test_a_section_that_follows_itself_is_a_repeat() -> None:
    score = empty("Gm7 | C7 | Gm7 | C7 | F | F", sections=[("A", 2), ("A", 2), ("B", 2)])
    chart = block(score, "chart")
    assert [(s["name"], s["times"], len(bars_in(s))) for s in chart["sections"]] == [
        ("A", 2, 2),
        ("B", 1, 2),
    ]
    first, second = (bars_in(section) for section in chart["sections"])
    assert [(bar["opens"], bar["closes"]) for bar in first] == [(True, False), (False, True)]
    assert [bar["is_last"] for bar in (*first, *second)] == [False, False, False, True]
    assert chart["remarks"] == []


def test_a_section_that_comes_back_is_written_once_and_the_order_is_told() -> None:
    score = empty("Gm7 | F | Gm7", sections=[("A", 1), ("B", 1), ("A", 1)])
    chart = block(score, "chart")
    assert [s["name"] for s in chart["sections"]] == ["A", "B"]
    assert chart["remarks"] == ["Order: A  B  A"]


def test_sections_of_one_name_and_other_chords_are_written_both() -> None:
    score = empty("Gm7 | F | Bb", sections=[("A", 1), ("B", 1), ("A", 1)])
    assert [s["name"] for s in block(score, "chart")["sections"]] == ["A", "B", "A"]


def test_a_bar_that_holds_the_chord_before_is_a_repeated_bar() -> None:
    (section,) = block(empty("Gm7 | Gm7 | C7 F | F | F"), "chart")["sections"]
    assert [bar["again"] for bar in bars_in(section)] == [False, True, False, False, True]


def test_chords_stand_where_they_begin_in_the_bar() -> None:
    (section,) = block(empty("Gm7 C7 | F"), "chart")["sections"]
    first = bars_in(section)[0]["chords"]
    assert [(c["symbol"], c["at"], c["share"]) for c in first] == [("Gm7", 0.0, 0.5), ("C7", 0.5, 0.5)]


# ------------------------------------------------------------------ practice notes


def row(score: Score, kind: str, **choices: Any) -> dict[str, Any]:
    return next(r for r in block(score, "practice", **choices)["rows"] if r["kind"] == kind)


def test_in_two_five_one_each_seventh_falls_to_the_next_third() -> None:
    # [common practice]
    items = row(empty("Dm7 | G7 | Cmaj7", key="C"), "ears")["items"]
    assert [item["what"] for item in items[:2]] == [
        "C (♭7) falls a half step to B (3)",
        "F (♭7) falls a half step to E (3)",
    ]
    assert [(item["bars"], item["chords"]) for item in items[:2]] == [
        ("2", "Dm7 – G7"),
        ("3", "G7 – Cmaj7"),
    ]


def test_a_change_is_listed_once_with_all_its_bars() -> None:
    items = row(empty("Dm7 | G7 | Dm7 | G7"), "ears")["items"]
    assert [(item["bars"], item["chords"]) for item in items] == [
        ("2, 4", "Dm7 – G7"),
        ("1, 3", "G7 – Dm7"),
    ]


def test_a_chord_that_goes_on_round_the_loop_is_no_change() -> None:
    items = row(empty("Dm7 | G7 | Dm7"), "ears")["items"]
    assert [item["chords"] for item in items] == ["Dm7 – G7", "G7 – Dm7"]


def test_the_place_on_the_neck_is_read_off_the_line() -> None:
    text = row(small_score(), "text")["text"]
    assert text.startswith("Frets 3 to 8; first finger mostly at fret 3")
    assert "begins with finger 3 on string 4, fret 5 (G)" in text
    assert "the hand stays where it is" in text


def test_the_tempo_ladder_ends_at_the_tempo() -> None:
    assert row(small_score(), "tempos")["tempos"] == ["♩ = 72", "♩ = 84", "♩ = 96", "♩ = 108", "♩ = 120"]
    one = row(small_score(), "tempos", tempo_steps=1)["tempos"]
    assert one == ["♩ = 120"]
    rows = block(small_score(), "practice", tempo_steps=0)["rows"]
    assert all(r["kind"] != "tempos" for r in rows)


# ------------------------------------------------------------------ lines and shapes


def test_every_chord_has_its_five_shapes() -> None:
    chords = block(empty("Gm7 | C7 | Gm7 | Bb/D | Bb"), "shapes")["chords"]
    assert [chord["symbol"] for chord in chords] == ["Gm7", "C7", "B♭/D"]
    for chord, symbol in zip(chords, ("Gm7", "C7", "Bb"), strict=True):
        wanted = chord_shapes(parse_chord(symbol), STANDARD)
        assert len(chord["shapes"]) == len(wanted) == 5
        assert [shape["caption"].split()[0] for shape in chord["shapes"]] == [s.form for s in wanted]


def test_shapes_of_chosen_chords_only() -> None:
    chosen = (parse_chord("Am7"),)
    assert [c["symbol"] for c in block(empty("Gm7 | C7"), "shapes", shapes_for=chosen)["chords"]] == [
        "Am7"
    ]


def test_the_shape_that_the_exercise_plays_is_marked() -> None:
    shape = chord_shapes(parse_chord("Gm7"), STANDARD)[2]
    notes = [
        fretted(f"{index}/2", "1/2", note.string, note.fret, note.finger)
        for index, note in enumerate(shape.notes[:8])
    ]
    score = Score("T", "swing", timeline("Gm7"), (lead(notes),))
    (chord,) = block(score, "shapes")["chords"]
    assert [s["used"] for s in chord["shapes"]] == [False, False, True, False, False]


def test_diagrams_are_of_one_scale_and_fit_into_their_cells() -> None:
    for paper in ("a4", "letter"):
        chords = block(empty("Gm7 | F7 | Bbmaj7 | C13"), "shapes", paper=paper)["chords"]
        scales = set()
        for chord in chords:
            for shape in chord["shapes"]:
                picture = shape["picture"]
                width = float(re.search(r' width="([\d.]+)"', picture["svg"])[1])  # type: ignore[index]
                scales.add(round(picture["width_mm"] / width, 6))
                assert picture["width_mm"] - 2 * chord["pull_mm"] <= chord["cell_mm"] + 1e-6
        assert len(scales) == 1


def test_left_handed_diagrams_are_mirrored() -> None:
    def nut(left_handed: bool) -> float:
        (chord,) = block(empty("E7"), "shapes", left_handed=left_handed)["chords"]
        svg = chord["shapes"][0]["picture"]["svg"]
        width = float(re.search(r' width="([\d.]+)"', svg)[1])  # type: ignore[index]
        thick = re.search(r'<line x1="([\d.]+)"[^>]*stroke-width="4"', svg)
        assert thick is not None
        return float(thick[1]) / width

    assert nut(False) < 0.5 < nut(True)


def test_other_instruments_have_their_own_shapes() -> None:
    text = "\n".join(
        pages(handout_pdf(empty("Gm7"), HandoutSettings(blocks=("shapes",), tuning=TUNINGS["ukulele"])))
    )
    assert "form 1" in text.lower()


def test_equal_choruses_are_engraved_once() -> None:
    bars = timeline("Gm7 | C7 | Gm7 | C7", sections=[("A", 2), ("A", 2)])
    twice = replace(
        bars,
        bars=tuple(replace(bar, chorus=1 + index // 2) for index, bar in enumerate(bars.bars)),
        sections=tuple(replace(s, chorus=1 + index) for index, s in enumerate(bars.sections)),
    )
    notes = [fretted(at, 1, 4, 5, 1) for at in (0, 4, 8, 12)]
    (part,) = block(Score("T", "swing", twice, (lead(notes),)), "lines")["parts"]
    frets = sum(len(re.findall(r'class="tabGrp"', system["svg"])) for system in part["systems"])
    assert frets == 2
    assert "The same in all 2 choruses" in part["note"]


def test_names_of_sections_stand_above_their_systems() -> None:
    notes = [fretted(f"{at}/2", "1/2", 4, 5, 1) for at in range(64)]
    bars = timeline(" | ".join(["Gm7"] * 8), sections=[("verse", 4), ("chorus", 4)])
    (part,) = block(Score("T", "swing", bars, (lead(notes),)), "lines")["parts"]
    assert [system["section"] for system in part["systems"]] == ["verse", "chorus"]
    assert not any("verse" in system["svg"] for system in part["systems"])


def test_an_unknown_part_is_refused() -> None:
    with pytest.raises(KeyError):
        handout_pdf(small_score(), HandoutSettings(part_names=("nobody",)))


# ------------------------------------------------------------------ the file


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
    assert names <= {"LinLibertineO", "LinLibertineOI", "DejaVuSans"}


def test_no_glyph_is_missing_on_any_page() -> None:
    text = "".join(pages(handout_pdf(empty("CΔ7 | Bø7 | F#dim7 | Bbm7b5 | C△7 | Ab°7"))))
    assert "\ufffd" not in text and "\x00" not in text


def test_pictures_have_as_many_pages_as_the_pdf() -> None:
    images = handout_pngs(small_score(), dots_per_inch=40)
    assert len(images) == len(pages(handout_pdf(small_score())))
    assert all(image.startswith(b"\x89PNG\r\n") for image in images)
    assert images == handout_pngs(small_score(), dots_per_inch=40)


def test_a_missing_font_is_an_error(monkeypatch: pytest.MonkeyPatch) -> None:
    typeset._fonts.cache_clear()
    monkeypatch.setattr(typeset, "FONT_FOLDERS", ())
    try:
        with pytest.raises(GenexError, match="font"):
            handout_pdf(empty("Gm7"), ONLY_CHART)
    finally:
        typeset._fonts.cache_clear()


def test_the_table_of_characters_is_that_of_the_fonts() -> None:
    held = set()
    for folder, name in zip(typeset.FONT_FOLDERS, ("LinLibertine_R.otf", "DejaVuSans.ttf"), strict=True):
        held |= set(TTFont(folder / name).getBestCmap())
    starts, ends = typeset._covered()
    listed = {code for a, b in zip(starts, ends, strict=True) for code in range(a, b + 1)}
    assert listed == {code for code in held if code >= 32 and not 0xE000 <= code <= 0xF8FF}
    assert {ord(sign) for sign in "♭♮♯Δ△ø°♩½×–…"} <= listed


def test_fonts_come_with_their_licences() -> None:
    for folder in typeset.FONT_FOLDERS:
        assert any(path.name.startswith("LICENSE") for path in folder.iterdir())


def test_the_data_is_plain_json() -> None:
    data = handout_data(small_score(), HandoutSettings())
    assert json.loads(json.dumps(data)) == data


def test_endings_are_engraved_once_with_their_brackets() -> None:
    recipe = "chords: '|: Dm7 | G7 | [1. Cmaj7 | A7 :| [2. C6 | F7'\nexercise: arpeggio\nrepeats: {}"
    for choruses in (1, 2):
        score = compose(parse_recipe(recipe.format(choruses))).score
        parts = {part["heading"]: part for part in block(score, "lines")["parts"]}
        svg = "".join(system["svg"] for system in parts["Exercise"]["systems"])
        assert re.findall(r">(\d\.)</tspan>", svg) == ["1.", "2."]
        assert svg.count('class="measure"') == 6
        assert "Bar numbers count every pass" in parts["Exercise"]["note"], "there is no chart"
        told = "The same in all 2 choruses" in parts["Exercise"]["note"]
        assert told == (choruses == 2)


def test_a_sheet_with_endings_sets_on_both_papers() -> None:
    chart = "|: Dm7 | G7 | [1. C | A7 :| [2. C6 | Bb13(b9,#11)/Gb F7(b5,b9) | |: Fm7 | Bb7 :|x3"
    score = compose(parse_recipe(f"chords: '{chart}'\nkey: C\nexercise: arpeggio")).score
    for paper in ("a4", "letter"):
        found = "\n".join(pages(handout_pdf(score, HandoutSettings(paper=paper))))
        assert {"1.", "2.", "3x"} <= set(found.split())
