"""The chord-type book, read back by pypdf."""

from __future__ import annotations

import functools
import io
import re

import pypdf
import pytest

from genex.errors import InputError
from genex.export.handout import BookSettings, book_pdf, chord_pdf, chord_pngs
from genex.export.handout.chord_book import book_data
from genex.export.neck_text import shape_heading
from genex.fretboard import STANDARD, chord_shapes, tuning
from genex.theory import Chord, describe, parse_chord

SYMBOLS = ("Eb13", "Cmaj7", "Cm7", "C7", "Cm7b5", "Bb6")
PRINTED = ("E♭13", "Cmaj7", "Cm7", "C7", "Cm7♭5", "B♭6")


def chords(*symbols: str) -> list[Chord]:
    return [parse_chord(symbol) for symbol in symbols or SYMBOLS]


@functools.cache
def book_pages() -> list[str]:
    reader = pypdf.PdfReader(io.BytesIO(book_pdf(chords())))
    return [page.extract_text() for page in reader.pages]


def test_the_contents_are_a_matrix_of_types_and_roots() -> None:
    data = book_data(chords(), BookSettings())
    assert data["roots"] == ["E♭", "C", "B♭"]
    rows = {row["type"]: row["chords"] for row in data["matrix"]}
    assert rows["13"] == [0, None, None] and rows["m7"] == [None, 2, None]
    assert rows["6"] == [None, None, 5]
    page = book_pages()[2]
    assert page.splitlines()[0] == "Contents" and "half-diminished seventh" in page


def test_a_chord_has_page_four_and_on_the_left_and_its_paths_face_it() -> None:
    """First page left, second page right, none between: whatever the chord."""
    for number, (printed, chord) in enumerate(zip(PRINTED, chords(), strict=True)):
        left, right = (book_pages()[3 + 2 * number + side] for side in (0, 1))
        assert printed in left and describe(chord).names[0] in left
        assert f"{printed} Practice paths" in right


def test_the_title_page_its_back_and_the_index_complete_the_book() -> None:
    book = book_pages()
    assert len(book) == 3 + 2 * len(PRINTED) + 1
    assert "6 chords" in book[0] and "tuning E A D G B E" in book[0]
    assert "Colophon" in book[1] and "Linux Libertine" in book[1]
    assert all(len(page) > 60 for page in book[1:]), "no blank page"


def test_date_and_licence_are_those_given() -> None:
    settings = BookSettings(date="Autumn term", licence="CC BY 4.0")
    back = pypdf.PdfReader(io.BytesIO(book_pdf(chords("C7"), settings))).pages[1].extract_text()
    assert "Autumn term" in back and "CC BY 4.0" in back


@pytest.mark.parametrize(
    ("paper", "neck", "symbol"),
    [("letter", "standard", "Cmaj7"), ("letter", "seven-string", "Em7"), ("a4", "ukulele", "C13")],
)
def test_a_chord_takes_one_spread_on_every_paper_and_neck(paper: str, neck: str, symbol: str) -> None:
    settings = BookSettings(paper=paper, tuning=tuning(neck))  # type: ignore[arg-type]
    reader = pypdf.PdfReader(io.BytesIO(book_pdf(chords(symbol), settings)))
    found = [page.extract_text() for page in reader.pages]
    assert len(found) == 6
    shapes = chord_shapes(parse_chord(symbol), tuning(neck))
    for page in found[3:5]:
        assert sum(page.count(shape_heading(shape)) for shape in shapes) >= len(shapes)


def test_bookmarks_go_by_type_and_chord() -> None:
    reader = pypdf.PdfReader(io.BytesIO(book_pdf(chords("Cmaj7", "Fmaj7", "G7"))))
    titles: list[object] = [
        [inner.title for inner in entry] if isinstance(entry, list) else entry.title
        for entry in reader.outline
    ]
    assert titles[-5:] == ["major seventh", ["Cmaj7", "Fmaj7"], "dominant seventh", ["G7"], "Index"]


def test_chords_with_the_same_tones_refer_to_each_other() -> None:
    """[common practice] C6 and Am7; C sharp and D flat; the diminished seventh on each of its tones."""
    data = book_data(chords("C6", "Am7", "C#7", "Db7", "Cdim7", "Ebdim7", "C7"), BookSettings())
    assert [item["twins"] for item in data["chords"]] == [[1], [0], [3], [2], [5], [4], []]
    terms = {item["term"]: item["chords"] for item in data["index"]}
    assert terms["D♭7"] == [2, 3], "the other name of the root leads there too"


def test_margins_are_mirrored_and_thumbs_are_at_the_outer_edge() -> None:
    reader = pypdf.PdfReader(io.BytesIO(book_pdf(chords("C7"))))
    lefts = []
    for page in reader.pages[3:5]:
        found: list[tuple[str, float]] = []
        page.extract_text(
            visitor_text=lambda text, cm, tm, font, size, to=found: to.append(
                (text.strip(), tm[4] * cm[0] + cm[4])
            )
        )
        lefts.append(dict(reversed(found)))
    mm = 72 / 25.4
    assert lefts[0]["C"] < 8 * mm and lefts[1]["C"] > (210 - 8) * mm, "the root's tab"
    name = "dominant seventh"
    assert lefts[0]["C7"] == pytest.approx(14 * mm, abs=1), lefts[0]
    assert any(text.startswith(name) for text in lefts[0])


def test_all_five_shapes_and_paths_are_there() -> None:
    for symbol, printed in zip(SYMBOLS, PRINTED, strict=True):
        number = 4 + 2 * PRINTED.index(printed)
        text = "\n".join(book_pages()[number - 1 : number + 1])
        for shape in chord_shapes(parse_chord(symbol), STANDARD):
            assert text.count(f"{shape.form} form, ") >= 2


def test_the_index_leads_to_the_right_pages() -> None:
    text = book_pages()[-1]
    for chord, printed in zip(chords(), PRINTED, strict=True):
        page = 4 + 2 * PRINTED.index(printed)
        for name in describe(chord).names:
            assert re.search(rf"^{re.escape(name)}(?: \.)+ ?{page}$", text, re.MULTILINE), name


def test_an_index_term_of_several_chords_has_all_their_pages() -> None:
    data = book_data(chords("Cmaj7", "Fmaj7", "G7"), BookSettings())
    terms = {item["term"]: item["chords"] for item in data["index"]}
    assert terms["major seventh"] == [0, 1]
    assert terms["G7"] == [2]
    assert list(terms) == sorted(terms, key=lambda term: (term.casefold(), term))


def test_every_page_has_its_number() -> None:
    assert "page 1 of" not in book_pages()[0], "a title page has none"
    for number, text in enumerate(book_pages()[1:], start=2):
        assert text.splitlines()[-1].endswith(f"page {number} of {len(book_pages())}")


def test_the_title_prints_as_it_is() -> None:
    settings = BookSettings(title=r"Sevenths #1 *and* $more$ \ _x_")
    text = pypdf.PdfReader(io.BytesIO(book_pdf(chords("C7"), settings))).pages[0].extract_text()
    assert text.splitlines()[0] == r"Sevenths #1 *and* $more$ \ _x_"


def test_a_chord_named_twice_is_there_once() -> None:
    assert len(book_data(chords("C7", "F7", "C7"), BookSettings())["chords"]) == 2


def test_a_second_run_is_the_same_bytes() -> None:
    wanted = chords("C7", "Fm7b5")
    assert book_pdf(wanted) == book_pdf(wanted)


def test_no_chords_and_too_many_are_refused() -> None:
    with pytest.raises(InputError, match="no chords"):
        book_pdf([])
    many = [parse_chord(f"{root}{kind}") for root in "C D E F G A B".split() for kind in ("7", "m7")]
    with pytest.raises(InputError, match="a book of"):
        book_data([*many, *(Chord(f"x{i}", many[0].root, many[0].degrees, many[0].bass, "7")
                            for i in range(400))], BookSettings())  # fmt: skip


def test_single_pages_of_a_chord() -> None:
    reader = pypdf.PdfReader(io.BytesIO(chord_pdf(parse_chord("Bb7b9"))))
    assert len(reader.pages) == 2
    assert reader.metadata is not None
    assert reader.metadata.title == "B♭7♭9, dominant seventh flat nine"
    images = chord_pngs(parse_chord("Bb7b9"), dots_per_inch=40)
    assert len(images) == 2 and all(image.startswith(b"\x89PNG") for image in images)
