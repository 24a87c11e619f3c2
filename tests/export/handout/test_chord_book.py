"""The chord-type book, read back by pypdf."""

from __future__ import annotations

import functools
import io
import itertools
import re

import pypdf
import pytest

from genex.errors import InputError
from genex.export.handout import BookSettings, book_pdf, chord_pdf, chord_pngs
from genex.export.handout.chord_book import book_data
from genex.fretboard import STANDARD, chord_shapes
from genex.theory import Chord, describe, parse_chord

SYMBOLS = ("Eb13", "Cmaj7", "Cm7", "C7", "Cm7b5", "Bb6")
PRINTED = ("E♭13", "Cmaj7", "Cm7", "C7", "Cm7♭5", "B♭6")


def chords(*symbols: str) -> list[Chord]:
    return [parse_chord(symbol) for symbol in symbols or SYMBOLS]


@functools.cache
def book_pages() -> list[str]:
    reader = pypdf.PdfReader(io.BytesIO(book_pdf(chords())))
    return [page.extract_text() for page in reader.pages]


def contents() -> dict[str, int]:
    """Symbol to page number, as the contents page prints them."""
    lines = re.findall(r"^(\S+) .*?(?: \.)+ ?(\d+)$", book_pages()[0], re.MULTILINE)
    return {symbol: int(page) for symbol, page in lines}


def test_the_contents_list_every_chord_with_its_page() -> None:
    listed = contents()
    assert tuple(listed)[: len(PRINTED)] == PRINTED
    for symbol, name in zip(PRINTED, chords(), strict=True):
        page = book_pages()[listed[symbol] - 1]
        assert page.splitlines()[0].startswith(symbol)
        assert describe(name).names[0] in page


def test_a_chord_begins_on_a_left_page_and_its_paths_face_it() -> None:
    for symbol in PRINTED:
        number = contents()[symbol]
        assert number % 2 == 0
        assert book_pages()[number].splitlines()[0].startswith(f"{symbol} Practice paths")


def test_an_ordinary_chord_takes_one_spread() -> None:
    listed = contents()
    for symbol, following in itertools.pairwise(PRINTED[1:]):
        assert listed[following] - listed[symbol] == 2


def test_all_five_shapes_and_paths_are_there() -> None:
    for symbol, printed in zip(SYMBOLS, PRINTED, strict=True):
        number = contents()[printed]
        following = [page for page in contents().values() if page > number]
        last = min(following, default=len(book_pages()))
        text = "\n".join(book_pages()[number - 1 : last - 1])
        for shape in chord_shapes(parse_chord(symbol), STANDARD):
            assert text.count(f"{shape.form} form, ") >= 2


def test_the_index_leads_to_the_right_pages() -> None:
    text = book_pages()[-1]
    for chord, printed in zip(chords(), PRINTED, strict=True):
        page = contents()[printed]
        for name in describe(chord).names:
            assert re.search(rf"^{re.escape(name)}(?: \.)+ ?{page}$", text, re.MULTILINE), name


def test_an_index_term_of_several_chords_has_all_their_pages() -> None:
    data = book_data(chords("Cmaj7", "Fmaj7", "G7"), BookSettings())
    terms = {item["term"]: item["chords"] for item in data["index"]}
    assert terms["major seventh"] == [0, 1]
    assert terms["G7"] == [2]
    assert list(terms) == sorted(terms, key=lambda term: (term.casefold(), term))


def test_every_page_has_its_number() -> None:
    for number, text in enumerate(book_pages(), start=1):
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
