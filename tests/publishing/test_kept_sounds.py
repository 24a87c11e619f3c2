"""What is heard as before is not rendered again; whatever changes, a build equals a clean one."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from genex import audio
from genex.audio import Renderer
from genex.publishing.kept_sounds import KeptSounds
from genex.publishing.version_files import BuiltFile
from tests.publishing.builds import build_all

RECIPE = {
    "title": "Rain",
    "chords": "Gm7 | C7 |",
    "tempo": "280",
    "parts": "drums bass exercise",
    "exercise": "arpeggio",
    "outputs": "midi loop band take stems",
    "audio": "{minus: [drums]}",
}
PLAIN = {"outputs": "loop", "audio": "{}"}
STEMS = {"outputs": "stems", "audio": "{}"}
CHANGES: list[tuple[dict[str, str], int]] = [
    ({"title": "Rain & Snow", "aim": "Evenly.", "outputs": f"{RECIPE['outputs']} chart"}, 0),
    ({"sections": "{Bridge: Gm7 | C7 |}", "chords": ""}, 0),
    ({"keys": "[F, C]", **STEMS}, 2),  # drums are the same in every key
    ({"mix": "{bass: {level: -4}}", **STEMS}, 1),
    ({"mix": "{bass: {level: -4}}", **STEMS, "audio": "{loudness: -18}"}, 0),
    ({"mix": "{bass: {level: -4}}", **STEMS, "audio": "{width: 0.5}"}, 3),
    (PLAIN, 1),
    (PLAIN | {"audio": "{minus: [drums]}"}, 1),
    (PLAIN | {"audio": "{minus: [drums], same_level: true}"}, 2),
    (PLAIN | {"outputs": "band", "audio": "{same_level: true}"}, 2),
    (PLAIN | {"audio": "{loudness: -18}"}, 1),
    (PLAIN | {"tempo": "270"}, 1),
    (PLAIN | {"outputs": "take", "audio": "{format: flac}", "count_in": "2"}, 1),
    (PLAIN | {"outputs": "take", "audio": "{format: flac}", "count_in": "2", "title": "Hail"}, 0),
]
"""Fields in place of the recipe's own, and how many sounds have to be rendered after those before."""


def write(path: Path, change: dict[str, str]) -> None:
    fields = {name: text for name, text in (RECIPE | change).items() if text}
    path.write_text("".join(f"{name}: {text}\n" for name, text in fields.items()))


def files(folder: Path) -> dict[str, bytes]:
    return {
        str(path.relative_to(folder)): path.read_bytes() for path in folder.rglob("*") if path.is_file()
    }


@pytest.fixture
def rain(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("genex.publishing.workshop._processors", lambda: 1)
    return tmp_path / "rain.yaml"


@pytest.fixture
def rendered(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """What was rendered."""
    found: list[str] = []

    def noting(name: str) -> Callable[..., object]:
        call = getattr(Renderer, name)

        def wrapped(*words: object) -> object:
            found.append(name)
            return call(*words)

        return wrapped

    for name in ("loop", "take", "stem"):
        monkeypatch.setattr(Renderer, name, noting(name))
    return found


def build(recipe: Path, out: str) -> None:
    list(build_all([recipe], Path(out), report=lambda text: None))


def test_whatever_changes_a_build_equals_a_clean_one(rain, rendered, monkeypatch):
    write(rain, {})
    build(rain, "out")
    whole = len(rendered)
    for change, expected in CHANGES:
        write(rain, change)
        rendered.clear()
        build(rain, "out")
        assert len(rendered) == expected, change
        shutil.rmtree("clean", ignore_errors=True)
        with monkeypatch.context() as patch:
            patch.setattr("genex.publishing.units.last_build", lambda request: None)
            build(rain, "clean")
        (folder,) = Path("clean").iterdir()
        assert files(Path("out", folder.name)) == files(folder), change
    assert whole == 7


def test_only_a_file_that_is_as_it_was_made_is_kept(rain, rendered, monkeypatch):
    change = {"outputs": "loop", "audio": "{}"}
    write(rain, change)
    build(rain, "out")
    sound = Path("out/rain/rain.wav")
    made = sound.read_bytes()
    sound.write_bytes(made[:-1] + b"x")
    write(rain, change | {"aim": "Even eighths."})
    build(rain, "out")
    assert rendered == ["loop", "loop"] and sound.read_bytes() == made

    rewrite = audio.rewrite_audio

    def and_meanwhile(*words: object, **more: object) -> str:
        digest = rewrite(*words, **more)
        sound.write_bytes(made[:-1] + b"y")
        return digest

    monkeypatch.setattr("genex.audio.rewrite_audio", and_meanwhile)
    write(rain, change | {"aim": "Softly."})
    build(rain, "out")
    assert rendered == ["loop", "loop", "loop"] and sound.read_bytes() == made


def test_the_reason_says_so(rain, genex, monkeypatch):
    monkeypatch.chdir(rain.parent)
    change = {"outputs": "midi loop", "audio": "{}"}
    write(rain, change)
    genex("build", rain, "--out", "out")
    write(rain, change | {"title": "Rain in May"})
    assert genex("build", rain, "--out", "out", "--dry-run", "--why").out.endswith(
        "  rain-in-may.mid: settings changed: title\n"
        "  rain-in-may.wav: settings changed: title; its sound is kept\n"
    )


def test_without_a_soundfont_nothing_has_a_key():
    assert KeptSounds().key("a") == "" and KeptSounds().find("") is None
    one, other = KeptSounds("1"), KeptSounds("2")
    assert len({one.key("a"), one.key("b"), other.key("a")}) == 3
    assert KeptSounds("1", {"k": (Path("gone"), BuiltFile("x.wav", "loop", 1, "0"))}).find("k") is None
