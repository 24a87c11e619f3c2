from __future__ import annotations

import base64
import hashlib
import json
import re
from html.parser import HTMLParser
from pathlib import Path

import pytest

from genex.export.phrases import LANGUAGES
from genex.page.document import document, in_script, module_names, page_html, words
from genex.page.lesson import PageLesson, PageSetting
from genex.resources import default_soundfont
from tests.page.pages import TUNE, page, piece, tune


class Reader(HTMLParser):
    """Every element with its attributes, and the text of scripts and styles."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.elements: list[tuple[str, dict[str, str | None]]] = []
        self.texts: list[tuple[str, str]] = []
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.elements.append((tag, dict(attrs)))
        self.texts.append((tag, ""))

    def handle_endtag(self, tag):
        self.texts.append(("", ""))

    def handle_data(self, data):
        if self.texts:
            tag, text = self.texts.pop()
            self.texts.append((tag, text + data))


def test_nothing_points_outside_of_the_file() -> None:
    read = Reader(page().decode())
    for tag, attributes in read.elements:
        assert tag not in {"link", "iframe", "object", "embed", "img", "audio", "video", "base"}
        assert not {"src", "href", "action", "srcset"} & set(attributes)


def test_the_policy_lets_run_what_genex_wrote_and_connects_to_nothing() -> None:
    # [published: W3C Content Security Policy Level 3]
    read = Reader(page().decode())
    policy = next(a["content"] for t, a in read.elements if a.get("http-equiv"))
    rules = dict(rule.strip().split(" ", 1) for rule in policy.split(";"))
    assert rules["default-src"] == "'none'"
    assert "connect-src" not in rules and "unsafe" not in policy
    kinds = [a.get("type") for t, a in read.elements if t == "script"]
    bodies = [text for t, text in read.texts if t == "script"]
    assert kinds == ["application/json", "importmap", "module"]
    for body in bodies[1:]:
        digest = base64.b64encode(hashlib.sha256(body.encode()).digest()).decode()
        assert f"'sha256-{digest}'" in rules["script-src"]


def test_every_module_is_there_as_it_stands_and_is_ascii_or_unicode_text() -> None:
    text = page().decode()
    modules = json.loads(re.search(r'<script type="importmap">(.*?)</script>', text)[1])["imports"]
    assert sorted(modules) == [f"#{name}" for name in module_names()]
    for address in modules.values():
        head, body = address.split(",")
        assert head == "data:text/javascript;base64"
        base64.b64decode(body).decode("utf-8")


def test_no_module_makes_markup_or_code_of_text() -> None:
    text = page().decode()
    modules = json.loads(re.search(r'<script type="importmap">(.*?)</script>', text)[1])["imports"]
    for name, address in modules.items():
        source = base64.b64decode(address.split(",")[1]).decode()
        for danger in (
            "innerHTML",
            "outerHTML",
            "insertAdjacent",
            "document.write",
            "eval(",
            "Function(",
        ):
            assert danger not in source, (name, danger)
        for asking in ("fetch(", "XMLHttpRequest", "WebSocket", "sendBeacon", "EventSource", "http"):
            outside = source.replace("http://www.w3.org/2000/svg", "")
            assert asking not in outside, (name, asking)


HOSTILE = "</script><script>alert(1)</script><!-- \" ' & ]]> \u2028"


def test_text_of_a_recipe_stays_text() -> None:
    text = document(HOSTILE, {"title": HOSTILE}, "en")
    read = Reader(text)
    assert [tag for tag, _ in read.elements].count("script") == 3
    kept = next(body for tag, body in read.texts if tag == "script")
    assert json.loads(kept) == {"title": HOSTILE}
    assert "<" not in in_script({"title": HOSTILE})


def test_a_recipe_with_a_hostile_title_is_a_page_like_any_other() -> None:
    made = piece(TUNE.replace("Paper Lanterns", "'<img src=x onerror=alert(1)> \"quotes\"'"))
    lesson = PageLesson(made.score.title, "x", (PageSetting(made.score),))
    read = Reader(page_html(made.score.title, [lesson], default_soundfont()).decode())
    assert "img" not in {tag for tag, _ in read.elements}


def test_the_same_lesson_is_the_same_file() -> None:
    one = PageLesson("x", "x", (PageSetting(tune().score),))
    assert page_html("x", [one], default_soundfont()) == page_html("x", [one], default_soundfont())


def test_a_lesson_without_a_sound_needs_no_soundfont(tmp_path) -> None:
    score = tune().score.only()
    text = page_html("x", [PageLesson("x", "x", (PageSetting(score),))], tmp_path / "none").decode()
    assert '"sounds":null' in text


def test_a_language_without_words_is_refused() -> None:
    with pytest.raises(ValueError, match="no words in xx"):
        words("xx")


def test_every_word_that_a_module_asks_for_is_there_and_none_is_left_over() -> None:
    text = page().decode()
    modules = json.loads(re.search(r'<script type="importmap">(.*?)</script>', text)[1])["imports"]
    source = "\n".join(base64.b64decode(a.split(",")[1]).decode() for a in modules.values())
    known = words("en")
    asked = set(re.findall(r'say\("(\w+)"', source))
    assert asked <= set(known)
    spoken = asked | set(re.findall(r'"(\w+)"', source)) | {"no_scripts", "roll", "shift"}
    made = ("order_", "log_", "ladder_")  # made of a head and a name
    assert {word for word in known if word not in spoken and not word.startswith(made)} == set()


SAME_AS_ENGLISH = {
    "solo": set(LANGUAGES),
    "swing": set(LANGUAGES),
    "tempo": {"de", "es", "fr"},
    "neck_form_number": {"de"},
    "neck_chord": set(LANGUAGES) - {"fr"},
    "neck_chord_places": set(LANGUAGES) - {"fr"},
    "click": {"it"},
    "solo_part": {"es"},
    "log_date": {"fr"},
    "log_minutes": {"fr"},
}
"""Words that are rightly those of English."""


@pytest.mark.parametrize("language", LANGUAGES[1:])
def test_the_page_says_all_of_it_in_every_language(language: str) -> None:
    english, table = words("en"), words(language)
    assert list(table) == list(english)
    assert all(text.strip() for text in table.values())
    blanks = {key: sorted(re.findall(r"\{\d\}", text)) for key, text in english.items()}
    assert {key: sorted(re.findall(r"\{\d\}", text)) for key, text in table.items()} == blanks
    assert {key for key in table if table[key] == english[key]} == {
        key for key, languages in SAME_AS_ENGLISH.items() if language in languages
    }


def test_a_page_names_its_language() -> None:
    score = tune().score.only()
    text = page_html("x", [PageLesson("x", "x", (PageSetting(score),))], Path("none"), language="de")
    assert b'<html lang="de">' in text and words("de")["no_scripts"].encode() in text
