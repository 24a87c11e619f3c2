"""A series on disk: folders in order, contents, a zip; a book."""

import hashlib
import json
import zipfile
from pathlib import Path

import pypdf
import pytest

from genex.errors import InputError
from genex.publishing.jobs import check_all
from tests.publishing.builds import build_all
from tests.readers.test_logo import png


@pytest.fixture
def weather(tmp_path):
    for name, chord in (("rain", "C"), ("snow", "F")):
        text = f"title: {name.title()}\nchords: {chord}\noutputs: midi tab\n"
        (tmp_path / f"{name}.yaml").write_text(text)
    path = tmp_path / "weather.yaml"
    path.write_text(
        "title: Weather\nlessons: [snow.yaml, rain.yaml]\nbook: {types: [major], roots: C}\n"
    )
    return path


def build(path: Path, out: Path) -> list[str]:
    for _ in build_all([path], out, report=lambda text: None):
        pass
    return sorted(str(p.relative_to(out)) for p in out.rglob("*") if p.is_file())


def test_a_series_is_a_folder_a_lesson_contents_book_and_zip(weather, tmp_path):
    assert build(weather, tmp_path / "out") == [
        "weather.zip",
        "weather/01-snow/manifest.json",
        "weather/01-snow/snow.mid",
        "weather/01-snow/snow.tab.txt",
        "weather/02-rain/manifest.json",
        "weather/02-rain/rain.mid",
        "weather/02-rain/rain.tab.txt",
        "weather/contents.html",
        "weather/contents.txt",
        "weather/manifest.json",
        "weather/weather.book.pdf",
    ]
    manifest = json.loads((tmp_path / "out" / "weather" / "manifest.json").read_text())
    assert manifest["lessons"] == ["01-snow", "02-rain"]
    assert [entry["name"] for entry in manifest["files"]] == [
        "contents.html",
        "contents.txt",
        "weather.book.pdf",
    ]
    for entry in manifest["files"]:
        data = (tmp_path / "out" / "weather" / entry["name"]).read_bytes()
        assert entry["sha256"] == hashlib.sha256(data).hexdigest()
    contents = (tmp_path / "out" / "weather" / "contents.txt").read_text()
    assert contents.index("01-snow: Snow") < contents.index("02-rain: Rain")


def test_the_zip_holds_what_was_made_and_is_always_the_same(weather, tmp_path):
    first, second = tmp_path / "one", tmp_path / "two"
    build(weather, first)
    build(weather, second)
    assert (first / "weather.zip").read_bytes() == (second / "weather.zip").read_bytes()
    with zipfile.ZipFile(first / "weather.zip") as archive:
        assert archive.testzip() is None
        names = archive.namelist()
        assert names == sorted(names) and "weather/contents.txt" in names
        assert (
            archive.read("weather/01-snow/snow.mid")
            == (first / "weather" / "01-snow" / "snow.mid").read_bytes()
        )


def test_the_book_names_its_chord(weather, tmp_path):
    build(weather, tmp_path / "out")
    pages = pypdf.PdfReader(tmp_path / "out" / "weather" / "weather.book.pdf").pages
    text = " ".join(page.extract_text() for page in pages)
    assert "Weather" in text and "major" in text.lower()


def test_check_counts_lessons(weather):
    (answer,), errors = check_all([weather])
    assert errors == []
    assert answer["lessons"] == ["01-snow", "02-rain"]
    assert answer["book"] == ["C"]


@pytest.fixture(scope="module")
def bound(tmp_path_factory):
    """Two lessons with sheets, bound; a book with posters."""
    folder = tmp_path_factory.mktemp("bound")
    for name in ("rain", "snow"):
        text = f"title: {name.title()}\naim: Hear {name}.\nchords: C |\nexercise: arpeggio\n"
        text += "outputs: handout\nletterhead: {school: Evening School}\n"
        (folder / f"{name}.yaml").write_text(text)
    path = folder / "weather.yaml"
    path.write_text(
        "title: Weather\nlessons: [snow.yaml, rain.yaml]\nbound: true\n"
        "book: {types: [maj7], roots: [D, E], posters: true, date: Autumn}\n"
    )
    build(path, folder / "out")
    return path


def test_the_bound_sheets_have_cover_contents_and_one_run_of_pages(bound):
    reader = pypdf.PdfReader(bound.parent / "out" / "weather" / "weather.bound.pdf")
    texts = [page.extract_text() for page in reader.pages]
    assert texts[0].startswith("Evening School") and "Weather" in texts[0]
    assert "2 lessons, Autumn" in texts[0]
    assert "Hear snow." in texts[1] and texts[1].index("Snow") < texts[1].index("Rain")
    whole = "\n".join(texts)
    assert whole.count("see a clinician") == 1, "the cautions once"
    for number, text in enumerate(texts[1:], start=2):
        assert text.rstrip().endswith(f"page {number} of {len(texts)}")
    titles = [entry.title for entry in reader.outline if not isinstance(entry, list)]
    assert titles == ["Contents", "1. Snow", "2. Rain"]


def test_posters_are_one_a_type_on_c(bound):
    names = sorted(path.name for path in (bound.parent / "out" / "weather").glob("*.pdf"))
    assert names == ["cmaj7.poster.pdf", "weather.book.pdf", "weather.bound.pdf"]


def test_bound_sheets_are_kept_until_a_sheet_changes(bound):
    out = bound.parent / "out"
    file = out / "weather" / "weather.bound.pdf"
    before = file.read_bytes()
    build(bound, out)
    assert file.read_bytes() == before
    rain = bound.parent / "rain.yaml"
    rain.write_text(rain.read_text().replace("Hear rain.", "Hear hail."))
    build(bound, out)
    reader = pypdf.PdfReader(file)
    assert "Hear hail." in reader.pages[1].extract_text()


@pytest.fixture
def with_head(tmp_path):
    """A series with a letterhead of its own, and a lesson that has another."""
    (tmp_path / "rain.yaml").write_text(
        "title: Rain\nchords: C |\noutputs: handout\nhandout: {blocks: chart}\n"
        "letterhead: {school: Other}\n"
    )
    path = tmp_path / "weather.yaml"
    path.write_text(
        "title: Weather\nlessons: [rain.yaml]\nbound: true\nbook: {types: maj7}\n"
        "letterhead: {school: Evening School, link: 'https://example.org', logo: logo.png}\n"
    )
    (tmp_path / "logo.png").write_bytes(png(40, 30))
    return path


def test_a_letterhead_of_the_series_stands_on_book_and_bound_sheets(with_head):
    out = with_head.parent / "out"
    build(with_head, out)
    for name, first in (("book", 2), ("bound", 1)):
        reader = pypdf.PdfReader(out / "weather" / f"weather.{name}.pdf")
        texts = [page.extract_text() for page in reader.pages[:first]]
        assert all("Evening School" in text and "example.org" in text for text in texts), name
    book = out / "weather" / "weather.book.pdf"
    before = book.read_bytes()
    build(with_head, out)
    assert book.read_bytes() == before
    (with_head.parent / "logo.png").write_bytes(png(30, 40))
    build(with_head, out)
    assert book.read_bytes() != before, "another logo"


def test_a_logo_that_cannot_be_printed_is_told_where_it_is_named(with_head):
    (with_head.parent / "logo.png").write_bytes(png(4, 3)[:-20] + b"x" * 20)
    with pytest.raises(InputError, match="no PNG that can be printed") as caught:
        build(with_head, with_head.parent / "out")
    assert str(caught.value.place).endswith("weather.yaml:5:73")
    assert not (with_head.parent / "out" / "weather").exists()


def test_nothing_to_bind_is_said(weather):
    weather.write_text(weather.read_text() + "bound: true\n")
    _, errors = check_all([weather])
    assert "no handout to bind" in str(errors[0])


def test_chords_whose_signs_a_file_name_cannot_hold_have_files_of_their_own(tmp_path):
    """C, C+ and C° differ in signs alone."""
    path = tmp_path / "three.yaml"
    path.write_text('title: Three\nbook: {types: ["", aug, dim], roots: C, pages: true}\n')
    made = build(path, tmp_path / "out")
    assert [name for name in made if name.endswith(".pdf")] == [
        "three/c.pdf",
        "three/caug.pdf",
        "three/cdim.pdf",
        "three/three.book.pdf",
    ]


def test_a_dry_run_knows_the_book(genex, weather, tmp_path):
    """All that a build makes was foreseen, and nothing of it is to go when a build comes again."""
    text = weather.read_text()
    words = ("build", weather, "--out", tmp_path / "out", "--dry-run", "--json")

    def foreseen():
        return json.loads(genex(*words).out)[0]

    for more in ("", ", pages: true", ", posters: true"):
        weather.write_text(text.replace("roots: C", f"roots: C{more}"))
        found = foreseen()
        made = set(build(weather, tmp_path / "out")) - {"weather.zip"}
        assert {f"weather/{name}" for name in found["make"]} <= made
        assert made <= {
            f"weather/{name}" for verb in ("make", "replace", "same") for name in found[verb]
        }
    snow = weather.with_name("snow.yaml")
    snow.write_text(snow.read_text() + "tempo: 99\n")
    found = foreseen()
    assert not found["make"] and not found["remove"] and "weather.book.pdf" in found["same"]
