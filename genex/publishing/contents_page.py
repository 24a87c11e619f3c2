"""The contents of a series as a page for a browser: it opens from the folder or the unpacked zip.

Everything on it lies beside it: links lead to every file, sounds play where they stand. One plain HTML
file without scripts, fonts or pictures [published: HTML Living Standard].
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from html import escape
from typing import TYPE_CHECKING
from urllib.parse import quote

from genex.export.phrases import made_phrases, part_name, words
from genex.plain_text import clean
from genex.publishing.series_files import lesson_facts
from genex.recipe import Series

if TYPE_CHECKING:
    from genex.publishing.lessons import Lesson
    from genex.publishing.version_files import BuiltFile

CONTENTS_PAGE = "contents.html"
KINDS = (
    "midi", "midi take", "tab", "answer key", "captions", "captions take", "timeline", "timeline take",
    "loop", "band loop", "stem", "take", "handout", "spoken edition", "chart", "diagrams", "musicxml",
    "musicxml lead sheet", "page",
)  # fmt: skip
"""What files are called in English, but for loops without a part."""
_STYLE = (
    "body{font:1.1rem/1.5 sans-serif;max-width:46rem;margin:2rem auto;padding:0 1rem;color:#1e1e1e}"
    "h2{margin:2rem 0 .2rem}p{margin:.3rem 0}ul{margin:.4rem 0}audio{width:100%;height:2.4rem}"
    "figure{margin:.6rem 0}figcaption,.facts{color:#555}a{color:#24445c}"
)


def contents_page(series: Series, lessons: Sequence[Lesson], beside: Sequence[str]) -> str:
    """Number, title, aim, key and tempo of each lesson, its sounds and its files; ``beside`` are the
    files of the series itself."""
    language = lessons[0].recipe.fields.language if lessons else "en"
    phrases = words(language)
    title = _text(series.title)
    lines = [
        "<!doctype html>",
        f'<html lang="{language}">',
        f'<head><meta charset="utf-8"><title>{title}</title>',
        '<meta name="viewport" content="width=device-width">',
        f"<style>{_STYLE}</style></head>",
        f"<body><main><h1>{title}</h1>",
    ]
    if beside:
        lines += ["<ul>", *(_link(name, name) for name in beside), "</ul>"]
    for number, lesson in enumerate(lessons, start=1):
        lines += _lesson(number, lesson, phrases)
    lines += [f"<h2>{phrases['care']}</h2>", f"<p>{phrases['care_note']}</p>", "</main></body></html>"]
    return "\n".join(lines) + "\n"


def _lesson(number: int, lesson: Lesson, phrases: Mapping[str, str]) -> Iterator[str]:
    recipe, below = lesson.recipe, lesson.folder.name
    yield f"<section><h2>{number}. {_text(recipe.title)}</h2>"
    if recipe.fields.aim:
        yield f"<p>{_text(recipe.fields.aim)}</p>"
    yield from (f'<p class="facts">{_text(facts)}</p>' for facts in lesson_facts(recipe))
    for file in lesson.files:
        if "length_samples" in file.facts:
            yield _sound(f"{below}/{file.name}", file, kind_name(file.kind, phrases))
    yield "<ul>"
    for file in lesson.files:
        yield _link(f"{below}/{file.name}", file.name, kind_name(file.kind, phrases))
    yield "</ul></section>"


def kind_name(kind: str, phrases: Mapping[str, str]) -> str:
    """What a kind of file is called in a language."""
    made = made_phrases(phrases["language"])
    _, without, part = kind.partition(" without ")
    if not without:
        return made.get(kind, kind)
    phrase = made.get("loop without {part}", "loop without {part}")
    return phrase.format(part=part_name(part, phrases))


def _sound(path: str, file: BuiltFile, kind: str) -> str:
    """A player; a loop plays on until it is stopped."""
    loops = " loop" if file.facts.get("loops") else ""
    name = _text(f"{kind}: {file.name}")
    return (
        f'<figure><figcaption>{name}</figcaption><audio controls{loops} preload="none" '
        f'aria-label="{name}" src="{_address(path)}"></audio></figure>'
    )


def _link(path: str, name: str, kind: str = "") -> str:
    told = f" ({_text(kind)})" if kind else ""
    return f'<li><a href="{_address(path)}">{_text(name)}</a>{told}</li>'


def _address(path: str) -> str:
    """A relative address; ``./`` so that no name is taken for a scheme."""
    return f"./{quote(path)}"


def _text(text: str) -> str:
    return escape(clean(text))
