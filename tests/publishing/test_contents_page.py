"""The contents page in a browser: every link leads to a file, from the folder and from the zip."""

from __future__ import annotations

import zipfile
from pathlib import Path
from urllib.parse import unquote

import lxml.html
import pytest

from genex.export.phrases import words
from genex.publishing.contents_page import kind_name
from tests.publishing.builds import build_all


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A series of two lessons, one of which sounds."""
    folder = tmp_path_factory.mktemp("series")
    (folder / "rain.yaml").write_text(
        "title: Rain & <Snow>\naim: Hear the third.\nchords: C |\ntempo: 300\nparts: bass\n"
        "outputs: loop midi\n"
    )
    (folder / "fog.yaml").write_text("title: Fog\nchords: F |\nexercise: arpeggio\noutputs: tab midi\n")
    path = folder / "damp.yaml"
    path.write_text("title: Damp Weeks\nlessons: [rain.yaml, fog.yaml]\n")
    for _ in build_all([path], folder / "out", report=lambda text: None):
        pass
    return folder / "out"


def test_every_file_is_linked_and_every_link_leads_to_a_file(built: Path) -> None:
    root = lxml.html.parse(str(built / "damp-weeks" / "contents.html")).getroot()
    linked = {unquote(address).removeprefix("./") for address in root.xpath("//a/@href")}
    there = {
        str(path.relative_to(built / "damp-weeks"))
        for path in (built / "damp-weeks").rglob("*")
        if path.is_file() and path.name not in ("manifest.json", "contents.html", "contents.txt")
    }
    assert linked == there
    with zipfile.ZipFile(built / "damp-weeks.zip") as archive:
        assert {f"damp-weeks/{path}" for path in linked} < set(archive.namelist())
        assert "damp-weeks/contents.html" in archive.namelist()


def test_sounds_play_where_they_stand_and_loops_go_on(built: Path) -> None:
    root = lxml.html.parse(str(built / "damp-weeks" / "contents.html")).getroot()
    (sound,) = root.xpath("//audio")
    assert unquote(sound.get("src")) == "./01-rain-snow/rain-snow.wav"
    assert {"controls", "loop"} <= set(sound.attrib) and sound.get("aria-label")
    assert sound.get("preload") == "none"


def test_titles_are_text_and_the_cautions_are_there(built: Path) -> None:
    text = (built / "damp-weeks" / "contents.html").read_text()
    root = lxml.html.document_fromstring(text)
    heads = [e.text_content() for e in root.xpath("//h2")]
    assert heads == ["1. Rain & <Snow>", "2. Fog", "Hands and ears"]
    assert "Hear the third." in text and "Set the volume low" in text


def test_both_contents_tell_the_same_of_a_lesson_of_several_exercises(tmp_path: Path) -> None:
    (tmp_path / "two.yaml").write_text(
        "title: Two\nchords: C\ntempo: 90\noutputs: midi\nexercises:\n"
        "  - {title: Up, exercise: arpeggio}\n  - {title: Down, exercise: etude, key: G, tempo: 72}\n"
    )
    path = tmp_path / "pair.yaml"
    path.write_text("title: Pair\nlessons: [two.yaml]\n")
    for _ in build_all([path], tmp_path / "out", report=lambda text: None):
        pass
    told = ["Up: C major, 4/4, 90", "Down: G major, 4/4, 72"]
    page = lxml.html.parse(str(tmp_path / "out" / "pair" / "contents.html")).getroot()
    assert [fact.text_content() for fact in page.xpath("//p[@class='facts']")] == told
    text = (tmp_path / "out" / "pair" / "contents.txt").read_text()
    assert all(f"    {line}\n" in text for line in told)


def test_kinds_of_files_are_told_in_the_language_of_the_series() -> None:
    german, french = words("de"), words("fr")
    assert [kind_name(kind, german) for kind in ("answer key", "loop without bass", "tab")] == [
        "Lösungen", "Schleife ohne Bass", "Tabulatur"
    ]  # fmt: skip
    assert kind_name("loop without drums", french) == "boucle sans batterie"
    assert kind_name("loop without drums", words()) == "loop without drums"
