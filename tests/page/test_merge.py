from __future__ import annotations

import json
from pathlib import Path

import pytest

from genex.page.merge import merged_page, page_data
from tests.page.pages import DRILL, TUNE, page


@pytest.fixture(scope="module")
def merged() -> dict:
    return page_data(merged_page("Term", [page(), page(DRILL)]))


def test_all_lessons_are_there_in_order_as_they_were(merged: dict) -> None:
    both = page_data(page())["lessons"] + page_data(page(DRILL))["lessons"]
    assert merged["lessons"] == both and merged["title"] == "Term"


def test_what_lessons_share_is_stored_once(merged: dict) -> None:
    one, other = page_data(page())["sounds"], page_data(page(DRILL))["sounds"]
    shared = one["recordings"].keys() & other["recordings"].keys()
    assert shared  # both have the same guitar
    assert merged["sounds"]["recordings"].keys() == one["recordings"].keys() | other["recordings"].keys()
    for name in shared:
        longest = max(one["recordings"][name]["frames"], other["recordings"][name]["frames"])
        assert merged["sounds"]["recordings"][name]["frames"] == longest
    assert len(json.dumps(merged["sounds"])) < len(json.dumps(one)) + len(json.dumps(other))


def test_every_voice_of_either_is_there(merged: dict) -> None:
    for text in (TUNE, DRILL):
        for name, preset in page_data(page(text))["sounds"]["presets"].items():
            for voice in preset["voices"]:
                assert voice in merged["sounds"]["presets"][name]["voices"]


def test_sounds_of_another_soundfont_stay_apart() -> None:
    other = page(DRILL).replace(b'"font":"', b'"font":"x')
    data = page_data(merged_page("Two", [page(), other]))
    presets = {part["preset"] for part in data["lessons"][1]["settings"][0]["parts"]}
    assert presets <= data["sounds"]["presets"].keys() and all(p.startswith("1: ") for p in presets)
    for name in presets:
        for voice in data["sounds"]["presets"][name]["voices"]:
            assert voice["recording"] in data["sounds"]["recordings"]


def test_what_is_no_page_is_refused() -> None:
    with pytest.raises(ValueError, match="no practice page"):
        page_data(b"<html></html>")


def test_a_series_has_a_page_of_its_lessons_and_keeps_it(genex, tmp_path: Path) -> None:
    (tmp_path / "one.yaml").write_text(TUNE + "outputs: page\n")
    (tmp_path / "two.yaml").write_text(DRILL + "outputs: page\n")
    (tmp_path / "term.yaml").write_text("title: Term\nlessons: [one.yaml, two.yaml]\n")
    words = ("build", tmp_path / "term.yaml", "--out", tmp_path / "out")
    foreseen = json.loads(genex(*words, "--dry-run", "--json").out)[0]
    answer = genex(*words)
    assert answer.code == 0, answer.err
    made = tmp_path / "out" / "term" / "term.page.html"
    assert "term.page.html" in foreseen["make"]
    assert [lesson["title"] for lesson in page_data(made.read_bytes())["lessons"]] == [
        "Paper Lanterns",
        "Name It",
    ]
    stamp = made.stat().st_mtime_ns
    (tmp_path / "two.yaml").write_text(DRILL.replace("seed: 3", "seed: 4") + "outputs: page\n")
    assert genex(*words).code == 0
    assert made.stat().st_mtime_ns != stamp
    stamp = made.stat().st_mtime_ns
    assert "unchanged" in genex(*words).out or made.stat().st_mtime_ns == stamp


def test_the_page_of_a_recipe_with_several_keys_follows_all_of_them(genex, tmp_path: Path) -> None:
    recipe = tmp_path / "one.yaml"
    words = ("build", recipe, "--out", tmp_path / "out")
    recipe.write_text(TUNE + "outputs: page midi\nkeys: [G minor, A minor]\n")
    assert genex(*words).code == 0
    made = tmp_path / "out" / "paper-lanterns" / "paper-lanterns.page.html"
    keys = [s["key"] for s in page_data(made.read_bytes())["lessons"][0]["settings"]]
    assert keys == ["G minor", "A minor"]
    recipe.write_text(TUNE + "outputs: page midi\nkeys: [G minor, A minor, C minor]\n")
    assert genex(*words).code == 0
    keys = [s["key"] for s in page_data(made.read_bytes())["lessons"][0]["settings"]]
    assert keys == ["G minor", "A minor", "C minor"]
