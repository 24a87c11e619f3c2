"""What a build made, opened in a browser: a stub in place of the user's."""

from __future__ import annotations

import json
import urllib.error
import urllib.request
import webbrowser
from pathlib import Path

import pytest

from genex.opening import Live, open_in_browser, shown_of
from genex.page.document import document

RECIPE = "title: Rain\nchords: Gm7 | C7 |\nexercise: arpeggio\noutputs: {outputs}\n"


@pytest.fixture
def browser(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """What the browser was asked to show."""
    shown: list[str] = []
    monkeypatch.setattr(webbrowser, "open", lambda address: shown.append(address) or True)
    return shown


@pytest.mark.parametrize(
    ("names", "shown"),
    [
        (["a/a.mid", "a/a.page.html", "a/a.handout.pdf", "a/manifest.json"], "a/a.page.html"),
        (["a/a.mid", "a/a.handout.pdf", "a/a.tab.txt"], "a/a.handout.pdf"),
        (["a/a.mid", "a/a.tab.txt"], "a/a.tab.txt"),
        (["a/a.C.handout.pdf", "a/a.G.handout.pdf"], "a/a.C.handout.pdf"),
        (["s/01-a/a.page.html", "s/02-b/b.page.html", "s/s.page.html"], "s/s.page.html"),
        (["s/01-a/a.page.html", "s/s.book.pdf"], "s/01-a/a.page.html"),
        (["a/a.wav", "a/manifest.json"], "a"),
        (["s/01-a/a.wav", "s/01-a/manifest.json", "s/manifest.json", "s.zip"], "s"),
        ([], None),
    ],
)
def test_the_file_that_shows_most(names: list[str], shown: str | None) -> None:
    assert shown_of([Path(name) for name in names]) == (None if shown is None else Path(shown))


def test_build_opens_the_sheet_new_or_up_to_date(genex, tmp_path, browser):
    path = tmp_path / "rain.yaml"
    path.write_text(RECIPE.format(outputs="[midi, chart]"))
    expected = (tmp_path / "out" / "rain" / "rain.chart.svg").as_uri()
    for _ in range(2):
        answer = genex("build", path, "--out", tmp_path / "out", "--open")
        assert (answer.code, answer.err) == (0, "")
    assert browser == [expected, expected]
    last = genex("build", path, "--out", tmp_path / "out", "--open", "--json").out.splitlines()[-2]
    assert json.loads(last) == {"event": "opened", "address": expected, "opened": True}


def test_of_several_recipes_the_first_is_shown(genex, tmp_path, browser):
    paths = [tmp_path / f"{name}.yaml" for name in ("b", "a")]
    for path in paths:
        path.write_text(RECIPE.replace("Rain", path.stem).format(outputs="tab"))
    assert genex("build", *paths, "--out", tmp_path / "out", "--open", "--quiet").code == 0
    assert browser == [(tmp_path / "out" / "b" / "b.tab.txt").as_uri()]


def test_a_page_is_served_for_as_long_as_it_is_followed(tmp_path):
    file = tmp_path / "rain.page.html"
    file.write_text(document("Rain", {"title": "Rain", "language": "en", "lessons": []}, "en"))
    live = Live(file)
    with urllib.request.urlopen(live.address) as answer:
        assert b"<title>Rain</title>" in answer.read()
    live.close()
    with pytest.raises(urllib.error.URLError):
        urllib.request.urlopen(live.address)


def test_without_a_browser_the_address_is_told(genex, tmp_path, monkeypatch):
    def none(address: str) -> bool:
        raise webbrowser.Error("could not locate runnable browser")

    monkeypatch.setattr(webbrowser, "open", none)
    assert open_in_browser("file:///nowhere") is False
    path = tmp_path / "rain.yaml"
    path.write_text(RECIPE.format(outputs="tab"))
    answer = genex("build", path, "--out", tmp_path / "out", "--open")
    assert answer.code == 0
    assert answer.err.strip() == (
        "no browser could be started here; open this yourself: "
        f"{(tmp_path / 'out' / 'rain' / 'rain.tab.txt').as_uri()}"
    )


def test_what_cannot_be_built_opens_nothing(genex, tmp_path, browser):
    path = tmp_path / "rain.yaml"
    path.write_text("chords: Hm7 |")
    assert genex("build", path, "--open").code == 2
    assert browser == []
