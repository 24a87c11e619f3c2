"""Of many lessons only those that changed are composed, and what is told of the others is the same."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from genex.publishing import maker, units
from genex.publishing.jobs import Wishes, check_all, foresee
from genex.publishing.lesson_facts import facts_from, facts_of
from genex.publishing.maker import prepare
from genex.recipe import parse_recipe
from genex.resources import example_recipes
from tests.publishing.builds import build_all

LESSON = (
    "title: {}\nchords: {}\ntempo: 120\nexercise: arpeggio\nfeel: ./mine.yaml\noutputs: [midi, tab]\n"
)
NAMES = ("rain", "snow", "hail")


@pytest.fixture
def term(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("genex.publishing.workshop._processors", lambda: 1)
    groove = Path(units.__file__).parents[1] / "band" / "grooves" / "bossa.yaml"
    Path("mine.yaml").write_text(groove.read_text())
    for name in NAMES:
        Path(f"{name}.yaml").write_text(LESSON.format(name, "Gm7 | C7"))
    path = Path("term.yaml")
    path.write_text(f"title: Term\nlessons: [{', '.join(f'{name}.yaml' for name in NAMES)}]\n")
    return path


@pytest.fixture
def composed(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Titles of what is composed before anything is made."""
    found: list[str] = []
    call = maker.compose

    def compose(recipe):
        found.append(recipe.title)
        return call(recipe)

    monkeypatch.setattr(maker, "compose", compose)
    return found


def build(path: Path, out: str) -> None:
    list(build_all([path], Path(out), report=lambda text: None))


def contents(folder: str) -> dict[str, bytes]:
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in Path(folder).rglob("*")
        if path.is_file()
    }


def test_only_what_changed_is_composed_and_all_is_as_in_a_clean_build(term, composed, monkeypatch):
    build(term, "out")
    assert composed == list(NAMES)
    grooves = Path("mine.yaml").read_text()
    for change, expected in (
        (lambda: Path("snow.yaml").write_text(LESSON.format("snow", "Gm7 | F7")), ["snow"]),
        (
            lambda: Path("hail.yaml").write_text(LESSON.format("hail", "C |") + "keys: [C, F]\n"),
            ["hail"],
        ),
        (
            lambda: Path("hail.yaml").write_text(LESSON.format("hail", "C |") + "keys: [F, C]\n"),
            ["hail"],
        ),
        (lambda: Path("out/term/01-rain/rain.mid").unlink(), []),
        (lambda: Path("mine.yaml").write_text(grooves + "# softer\n"), list(NAMES)),
        (
            lambda: Path("mine.yaml").write_text(grooves.replace("swing: none", "swing: 1.2")),
            list(NAMES),
        ),
    ):
        change()
        composed.clear()
        build(term, "out")
        assert composed == expected
        with monkeypatch.context() as patch:
            patch.setattr(units, "last_build", lambda request: None)
            build(term, "clean")
        assert contents("out") == contents("clean")


def test_a_file_that_comes_or_goes_composes_what_asked_for_it(term, composed):
    """Own shapes beside the recipes: looked for, and not there at first."""
    build(term, "out")
    composed.clear()
    Path("fingerings.txt").write_text("")
    build(term, "out")
    assert composed == list(NAMES)
    composed.clear()
    Path("mine.yaml").unlink()
    with pytest.raises(Exception, match=r"there is no groove file './mine.yaml'"):
        build(term, "out")


def test_recipes_of_the_same_words_in_two_folders_mean_files_of_their_own(term, monkeypatch):
    groove = Path("mine.yaml").read_text()
    grooves = [groove, groove.replace("swing: none", "swing: 1.4")]
    for name, text in zip("ab", grooves, strict=True):
        Path(name).mkdir()
        Path(name, "mine.yaml").write_text(text)
        Path(name, "rain.yaml").write_text(LESSON.format("rain", "Gm7 | C7"))
    for title, order in (("Term", 1), ("Terms", 1), ("Terms", -1)):
        term.write_text(f"title: {title}\nlessons: [a/rain.yaml, b/rain.yaml]\n")
        for name, text in zip("ab", grooves[::order], strict=True):
            Path(name, "mine.yaml").write_text(text)
        build(term, "out")
        if title == "Term":
            continue
        with monkeypatch.context() as patch:
            patch.setattr(units, "last_build", lambda request: None)
            build(term, "clean")
        slug = title.lower()
        assert contents(f"out/{slug}") == contents(f"clean/{slug}")
        lines = [Path(f"out/{slug}/{n}-rain/rain.mid").read_bytes() for n in ("01", "02")]
        assert lines[0] != lines[1]


def test_files_of_one_name_that_change_places_are_others(tmp_path, monkeypatch):
    """Two calls by one name in two folders: what each says is heard in its own place."""
    recipe = tmp_path / "rain.yaml"
    used = {str(tmp_path / name / "call.mid"): digest for name, digest in (("a", "1"), ("b", "2"))}
    recipe.write_text("title: Rain\nchords: C\n")
    read = parse_recipe(recipe.read_text(), str(recipe))
    turned = dict(zip(used, reversed(used.values()), strict=True))
    assert units._fingerprints(read, used, None) != units._fingerprints(read, turned, None)


def test_tempos_of_sections_are_in_proportion_to_one_tempo_whatever_is_made(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("genex.publishing.workshop._processors", lambda: 1)
    recipe, written = Path("rain.yaml"), (
        "title: Rain\nsections: {A: Gm7, B: {chords: C7, tempo: 60}}\nform: A B\noutputs: midi\n"
    )  # fmt: skip
    recipe.write_text(f"{written}tempos: [90, 120]\n")
    build(recipe, "out")
    Path("out/rain/rain.120.mid").unlink()
    for tempos in ("[90, 120]", "[60, 90, 120]"):
        recipe.write_text(f"{written}tempos: {tempos}\n")
        build(recipe, "out")
        with monkeypatch.context() as patch:
            patch.setattr(units, "last_build", lambda request: None)
            build(recipe, "clean")
        assert contents("out") == contents("clean"), tempos


def test_other_versions_and_a_rebuild_compose_all(term, composed, monkeypatch):
    build(term, "out")
    composed.clear()
    list(build_all([term], Path("out"), report=lambda text: None, wishes=Wishes(rebuild=True)))
    assert composed == list(NAMES)
    now = units.versions()
    monkeypatch.setattr(units, "versions", lambda: now | {"numpy": "9.9"})
    composed.clear()
    build(term, "out")
    assert composed == list(NAMES)


def test_foreseeing_composes_nothing_that_is_known(term, composed):
    build(term, "out")
    composed.clear()
    (told,) = foresee([term], Path("out"), wishes=Wishes(), why=True)
    assert composed == [] and not told["make"] and len(told["same"]) == 6


def test_pieces_of_many_lessons_are_not_all_in_memory(term, composed, monkeypatch):
    build(term, "out")
    monkeypatch.setattr(units, "MOST_AT_HAND", 1)
    unit = units.prepare_unit(units.Request(term, Path("few")))
    assert [work.job.at_hand is not None for work in unit.lessons] == [True, False, False]
    build(term, "few")
    assert contents("few") == contents("out")


def test_what_is_told_survives_the_note(monkeypatch):
    monkeypatch.chdir(example_recipes())
    for name in ("lantern-street.yaml", "thursday-evening.yaml"):
        job = prepare(parse_recipe(Path(name).read_text(), name))
        facts = facts_of(job)
        again = facts_from(json.loads(json.dumps(facts.as_json())))
        assert again.music == facts.music and again.notes == facts.notes
        assert again.amounts == facts.amounts and len(facts.amounts) == len(job.recipe.versions)


def test_check_composes_all(term, composed):
    check_all([term])
    assert composed == list(NAMES)
