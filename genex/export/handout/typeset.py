"""Typst: data and templates -> PDF or PNG, always the same bytes for the same input.

Whatever a user wrote reaches the typesetter as JSON data, never as markup, so it prints as it is.
Only the bundled fonts are used, and behind them one that the user names; a character that none of them
has is refused before setting, and any warning of the typesetter is an error: a page is right or it is
not made.
"""

from __future__ import annotations

import json
import unicodedata
from bisect import bisect_right
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from genex.errors import GenexError, InputError
from genex.export.typography import font_file
from genex.lazy import lazy
from genex.processes import threads_begin
from genex.readers.font import Font

if TYPE_CHECKING:
    import typst
else:
    typst = lazy("typst")

_HERE = Path(__file__).resolve().parent
_TEMPLATES = _HERE / "templates"
FONT_FOLDERS = (_HERE / "fonts", _HERE.parent / "fonts")
"""Linux Libertine for text, DejaVu Sans for what it lacks; their licences lie beside them."""

COVERAGE = _HERE / "fonts" / "coverage.txt"
"""The characters that the regular faces of both fonts have between them, as ranges."""

_OTHER = "name another font"
_FIXED_TIMESTAMP = 0
"""Seconds of the Unix epoch: a PDF carries its time of making, which must not change its bytes."""


_STANDARD = "ua-1"
"""PDF/UA-1 [published: ISO 14289-1:2014]: tags, language, title and a text for every picture. The
typesetter refuses a page that lacks one of them."""


def pdf(template: str, data: Mapping[str, Any]) -> bytes:
    """A PDF set from ``templates/<template>.typ``. Raises InputError for missing characters."""
    made = _compile(template, data, format="pdf", pdf_standards=_STANDARD)
    assert isinstance(made, bytes)
    return made


def png_pages(template: str, data: Mapping[str, Any], *, dots_per_inch: float) -> tuple[bytes, ...]:
    """The same pages as PNG images, one each. Raises InputError for missing characters."""
    made = _compile(template, data, format="png", ppi=dots_per_inch)
    return tuple(made) if isinstance(made, list) else (made,)


def extent(template: str, data: Mapping[str, Any]) -> tuple[int, float]:
    """How many pages it makes, and the share of the last one that is taken. The template says so in a
    label ``pages``."""
    with _compiler(template, data) as compiler:
        pages, share = json.loads(compiler.query("<pages>", field="value", one=True))
    return int(pages), float(share)


@contextmanager
def _compiler(template: str, data: Mapping[str, Any]) -> Iterator[typst.Compiler]:
    """``font`` of the data is the user's font, of which the template is told the family."""
    font: Font | None = data.get("font")
    require_glyphs(data, font)
    threads_begin()
    with _with_font(font) as (fonts, family):
        yield typst.Compiler(
            str(_TEMPLATES / f"{template}.typ"),
            root=str(_TEMPLATES),
            font_paths=fonts,
            ignore_system_fonts=True,
            sys_inputs={"data": json.dumps({**data, "font": family}, ensure_ascii=False)},
        )


def _compile(template: str, data: Mapping[str, Any], **options: Any) -> Any:
    with _compiler(template, data) as compiler:
        try:
            made, warnings = compiler.compile_with_warnings(timestamp=_FIXED_TIMESTAMP, **options)
        except typst.TypstError as error:
            told = f"the page could not be set: {error.message}\n{error.diagnostic}"
            raise GenexError(told) from error
    if warnings:
        told = "; ".join(sorted({warning.message for warning in warnings}))
        raise GenexError(f"the page was not set as it should be: {told}")
    return made


@lru_cache(maxsize=1)
def _fonts() -> typst.Fonts:
    return _fonts_in(*FONT_FOLDERS)


def _fonts_in(*places: Path) -> typst.Fonts:
    paths = [str(place) for place in places]
    return typst.Fonts(include_system_fonts=False, include_embedded_fonts=False, font_paths=paths)


@contextmanager
def _with_font(font: Font | None) -> Iterator[tuple[typst.Fonts, str]]:
    """The bundled fonts and the user's, and its family as the typesetter calls it; no family without.

    Raises InputError for a font that the typesetter cannot use.
    """
    if font is None:
        yield _fonts(), ""
        return
    with font_file(font) as path:
        families = _fonts_in(path.parent).families()
        if len(families) != 1:
            raise InputError(f"nothing can be set with the font '{font.family}'", hint=_OTHER)
        if families[0] in _fonts().families():
            raise InputError(f"genex has the font '{font.family}' itself", hint=_OTHER)
        yield _fonts_in(*FONT_FOLDERS, path.parent), families[0]


def require_font(font: Font) -> None:
    """Raise InputError for a font that nothing can be set with."""
    with _with_font(font):
        pass


def require_glyphs(data: object, font: Font | None = None) -> None:
    """Raise InputError naming the first character in the data that the bundled fonts and the user's
    lack."""
    starts, ends = _covered()
    for text in _texts(data):
        if text.isascii():
            continue
        for character in sorted(set(text)):
            code = ord(character)
            index = bisect_right(starts, code) - 1
            has_own = index >= 0 and code <= ends[index]
            if not (has_own or _is_invisible(character) or (font and font.has(character))):
                name = unicodedata.name(character, f"U+{code:04X}")
                which = "the handout's fonts have" if font is None else f"the font '{font.family}' has"
                raise InputError(
                    f"{which} no '{character}' ({name.lower()}), in '{text[:60]}'",
                    hint="name a font that has it, as in 'font: my-font.otf', or write it otherwise",
                )


def plain_text(text: str) -> str:
    """Text as it is set: composed (NFC), line breaks and tabs as spaces, no control characters."""
    composed = unicodedata.normalize("NFC", " ".join(text.split()))
    return "".join(c for c in composed if unicodedata.category(c) not in ("Cc", "Cs", "Co", "Cn"))


def _is_invisible(character: str) -> bool:
    return unicodedata.category(character) in ("Cc", "Cf", "Zs", "Zl", "Zp") or character == "\ufe0f"


def _texts(data: object) -> Iterator[str]:
    if isinstance(data, str):
        yield data
    elif isinstance(data, Mapping):
        for value in data.values():
            yield from _texts(value)
    elif isinstance(data, list | tuple):
        for value in data:
            yield from _texts(value)


@lru_cache(maxsize=1)
def _covered() -> tuple[list[int], list[int]]:
    """First and last characters of the covered ranges, ascending."""
    starts, ends = [], []
    for line in COVERAGE.read_text("ascii").splitlines():
        if line and not line.startswith("#"):
            first, _, last = line.partition("-")
            starts.append(int(first, 16))
            ends.append(int(last or first, 16))
    return starts, ends
