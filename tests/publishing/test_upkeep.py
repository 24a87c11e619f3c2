"""Is it as it was made? What can go?"""

import json

import pytest

from genex.publishing.staging import Staging


@pytest.fixture
def term(genex, tmp_path, monkeypatch):
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "cache"))
    (tmp_path / "rain.yaml").write_text("title: Rain\nchords: C | F\nparts: guide\noutputs: midi tab\n")
    (tmp_path / "term.yaml").write_text("title: Term\nlessons: [rain.yaml]\n")
    for name in ("rain.yaml", "term.yaml"):
        assert genex("build", tmp_path / name, "--out", tmp_path / "out").code == 0
    return tmp_path / "out"


def test_what_is_as_it_was_made(genex, term):
    for folder in (term, term / "rain", term / "term", term / "term" / "01-rain"):
        assert genex("verify", folder).code == 0
    (answer,) = json.loads(genex("verify", term / "term", "--json").out)
    assert (answer["ok"], answer["files"], answer["findings"]) == (True, 7, [])


@pytest.mark.parametrize(
    ("name", "damage", "state"),
    [
        ("term/01-rain/rain.mid", lambda path: path.write_bytes(b"x"), "changed"),
        ("term/01-rain/rain.tab.txt", lambda path: path.unlink(), "missing"),
        ("term/contents.txt", lambda path: path.write_text("x"), "changed"),
        ("term.zip", lambda path: path.write_bytes(b"x"), "changed"),
        ("term.zip", lambda path: path.unlink(), "missing"),
    ],
)
def test_what_is_not(genex, term, name, damage, state):
    damage(term / name)
    for folder in (term, term / "term"):
        answer = genex("verify", folder, "--quiet")
        assert (answer.code, answer.out) == (1, f"{term / name}: {state}\n")
    (found,) = json.loads(genex("verify", term, "--json").out)
    assert found["findings"] == [{"file": str(term / name), "state": state}]


def test_a_folder_without_a_manifest_or_with_a_damaged_one(genex, term, tmp_path):
    assert "holds no manifest" in genex("verify", tmp_path / "cache").err
    assert "cannot be looked into" in genex("verify", tmp_path / "nowhere").err
    (term / "rain" / "manifest.json").write_text("{")
    answer = genex("verify", term / "rain")
    assert (answer.code, "is damaged" in answer.err) == (2, True)


def test_cleaning_tells_first_and_removes_what_is_dead(genex, term, tmp_path):
    (term / ".rain~abcd1234.part" / "new").mkdir(parents=True)
    (term / ".rain~abcd1234.part" / "new" / "rain.wav").write_bytes(bytes(2_000_000))
    with Staging(term / "rain") as living:
        told = genex("clean", "--out", term)
        assert "1 leftovers" in told.out and "2.0 MB" in told.out and "--yes removes" in told.out
        assert str(tmp_path / "cache" / "genex") in told.out
        assert (term / ".rain~abcd1234.part").exists()
        data = json.loads(genex("clean", "--out", term, "--json").out)
        assert (data["removed"], data["leftover_bytes"]) == (False, 2_000_000)
        assert genex("clean", "--out", term, "--yes").code == 0
        assert living.staged_path("").exists()
    assert sorted(path.name for path in term.iterdir()) == ["rain", "term", "term.zip"]
    assert not (tmp_path / "cache" / "genex").exists()
    assert genex("verify", term).code == 0


def test_leftovers_go_even_if_nothing_else_is_to_be_done(genex, term, tmp_path):
    (term / ".other~abcd1234.part" / "new").mkdir(parents=True)
    (term / ".term.zip-abcd1234.part").write_bytes(b"half a zip, by an earlier version")
    answer = genex("build", tmp_path / "rain.yaml", "--out", term)
    assert "(unchanged)" in answer.out
    assert sorted(path.name for path in term.iterdir()) == ["rain", "term", "term.zip"]
