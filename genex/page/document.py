"""The page as one HTML file: markup, styles, modules and data, and a policy that forbids requests.

Modules come as ``data:`` addresses of an import map, so that a file opened by a double click can load
them; nothing has to be bundled. The policy (Content-Security-Policy, in the file) names the digest of
everything that may run or style the page and allows no connection at all. What a recipe says is data:
it stands in an element that no browser executes, with ``<`` written as an escape, and the modules set
it as text, never as markup.
"""

from __future__ import annotations

import base64
import hashlib
import html
import json
from collections.abc import Sequence
from functools import lru_cache, partial
from pathlib import Path
from typing import Any

from genex.export.typography import families
from genex.page.lesson import PageLesson, lesson_data
from genex.page.moves import SHIFTS
from genex.page.music import packed_music
from genex.page.sounds import sounds_of
from genex.readers.font import Font
from genex.units import TICKS_PER_BEAT

_APP = Path(__file__).parent / "app"
_ENTRY = "main"


def page_html(
    title: str,
    lessons: Sequence[PageLesson],
    soundfont: Path,
    *,
    language: str = "en",
    digest: str | None = None,
    font: Font | None = None,
) -> bytes:
    """A page with one lesson or several, which share their sounds. Raises SoundfontError.

    ``digest`` is that of the soundfont's content if it is known; ``font`` has letters for titles.
    """
    scores = [setting.score for lesson in lessons for setting in lesson.settings]
    sounds_wanted = any(part.notes for score in scores for part in score.parts)
    data = {
        "title": title,
        "language": language,
        **({} if font is None else {"font": f"system-ui, {families(font)}"}),
        "ticks": TICKS_PER_BEAT,
        "shifts": list(SHIFTS),
        "words": words(language),
        "lessons": [
            lesson_data(lesson, partial(packed_music, language=lesson.language)) for lesson in lessons
        ],
        "sounds": sounds_of(scores, soundfont, digest=digest) if sounds_wanted else None,
    }
    return document(title, data, language).encode()


def document(title: str, data: dict[str, Any], language: str, *, follows: str = "") -> str:
    """The file around some data.

    ``follows`` is for a page that is served on this machine: the mark of its lesson. It may then ask
    the one that served it, and nobody else, for a newer one.
    """
    follow = (_APP / "live" / "follow.js").read_text("utf-8") if follows else ""
    style = (_APP / "page.css").read_text("utf-8")
    if data.get("font"):
        style += f"html {{ font-family: {data['font']}; }}\n"
    modules = json.dumps({"imports": _modules()})
    start = f'import "#{_ENTRY}";'
    policy = "; ".join(
        (
            "default-src 'none'",
            f"script-src data: {_digest(modules)} {_digest(start)}{follow and ' ' + _digest(follow)}",
            *(["connect-src 'self'"] if follows else []),
            f"style-src {_digest(style)}",
            "img-src data:",
            "base-uri 'none'",
            "form-action 'none'",
        )
    )
    return "\n".join(
        (
            "<!doctype html>",
            f'<html lang="{html.escape(language)}" data-lesson="{html.escape(follows)}">'
            if follows
            else f'<html lang="{html.escape(language)}">',
            "<head>",
            '<meta charset="utf-8">',
            f'<meta http-equiv="Content-Security-Policy" content="{html.escape(policy)}">',
            '<meta name="viewport" content="width=device-width, initial-scale=1">',
            '<meta name="color-scheme" content="light dark">',
            f"<title>{html.escape(title)}</title>",
            f"<style>{style}</style>",
            "</head>",
            "<body>",
            f"<noscript><p>{html.escape(words(language)['no_scripts'])}</p></noscript>",
            '<div id="page"></div>',
            f'<script type="application/json" id="lesson">{in_script(data)}</script>',
            f'<script type="importmap">{modules}</script>',
            f'<script type="module">{start}</script>',
            *([f'<script type="module">{follow}</script>'] if follows else []),
            "</body>",
            "</html>",
            "",
        )
    )


def in_script(data: Any) -> str:
    """JSON that may stand in a script element: nothing in it can end the element or begin a comment.

    [published: HTML Living Standard, restrictions for contents of script elements]
    """
    text = json.dumps(data, ensure_ascii=False, separators=(",", ":"))
    return text.replace("<", "\\u003c").replace("\u2028", "\\u2028").replace("\u2029", "\\u2029")


@lru_cache(maxsize=8)
def words(language: str) -> dict[str, str]:
    """All words of the page. Raises ValueError for a language that it does not speak."""
    path = _APP / f"words.{language}.json"
    if not path.is_file():
        raise ValueError(f"the page has no words in {language}")
    found: dict[str, str] = json.loads(path.read_text("utf-8"))
    return found


def module_names() -> list[str]:
    """The modules of the page, by name."""
    return sorted(path.stem for path in _APP.glob("*.js"))


def _modules() -> dict[str, str]:
    return {f"#{name}": _address((_APP / f"{name}.js").read_bytes()) for name in module_names()}


def _address(source: bytes) -> str:
    return "data:text/javascript;base64," + base64.b64encode(source).decode("ascii")


def _digest(text: str) -> str:
    return f"'sha256-{base64.b64encode(hashlib.sha256(text.encode()).digest()).decode('ascii')}'"
