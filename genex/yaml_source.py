"""YAML text read with the line and column of every value.

The text is parsed by ruamel.yaml; this module turns its events into plain data and remembers
where each value stood, so that a message can point at it. Only what a recipe needs is let
through: one document, no anchors, aliases or tags, bounded size and depth. Recipes and groove
files are both read here.
"""

from __future__ import annotations

import re
import stat
from bisect import bisect_right
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

from genex.errors import Place, RecipeError

MAX_BYTES = 262_144
MAX_DEPTH = 16
MAX_VALUES = 20_000

KeyPath = tuple[str | int, ...]
"""Keys and list indices from the top of the document down to a value."""

_HINTS = (
    ("expected a comment or a line break", "a chart may not begin with a bar line on the line of its "
     "field: leave the first | away, or write 'chords: |' and the chart on the lines below"),
    ("expected chomping or indentation", "a chart may not begin with a bar line on the line of its "
     "field: write 'chords: |' and the chart, from |: on, on the lines below"),
    ("mapping values are not allowed", "put text that contains a colon into quotes"),
    ("found a tab character", "indent with spaces"),
    ("found character '\\t'", "indent with spaces"),
    ("cannot start any token", "put text that begins with a sign such as % @ or ` into quotes"),
    ("could not find expected ':'", "every line needs a field, a colon and a space, then the value"),
    ("expected ',' or ']'", "close the list with ]"),
    ("expected ',' or '}'", "close the braces with }"),
    ("while scanning a quoted scalar", "close the quotes"),
    ("expected <block end>", "fields of one level begin in the same column"),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Span:
    """Where a value stands in the text: character offsets, and the style of a scalar."""

    start: int
    end: int
    style: str | None = None


@dataclass(frozen=True)
class Source:
    """A parsed file: ``data`` as plain Python values, and the places of all of them."""

    file: str
    text: str
    data: Any
    values: dict[KeyPath, Span]
    keys: dict[KeyPath, Span]

    @cached_property
    def _line_starts(self) -> list[int]:
        return [0, *(match.end() for match in re.finditer(r"\r\n|\r|\n", self.text))]

    def place_at(self, offset: int) -> Place:
        """The place of a character offset."""
        line = bisect_right(self._line_starts, offset) - 1
        return Place(self.file, line + 1, offset - self._line_starts[line] + 1)

    def place(self, path: KeyPath, *, of_key: bool = False) -> Place:
        """The place of a value (or of its field name); of the nearest parent if it is not written."""
        spans = self.keys if of_key else self.values
        while path and path not in spans:
            path, spans = path[:-1], self.values
        span = spans.get(path)
        return self.place_at(span.start) if span else Place(self.file, 1, 1)

    def cut_short(self, path: KeyPath) -> int | None:
        """Offset of a ``#`` glued to a word that YAML took for a remark and cut a plain text at.

        ``I | #ivo7 | V`` loses its second half without a word; ``I | V  # remark`` is meant so.
        """
        span = self.values[path]
        if span.style is not None:
            return None
        found = re.compile(r"[ \t]+(#)(?=[^\s#])").match(self.text, span.end)
        return found.start(1) if found else None

    def written(self, path: KeyPath) -> tuple[str, int]:
        """A scalar as it stands in the file, and its offset: quotes and block headers are left out.

        Text with escapes comes as what it means; offsets inside it are then only near.
        """
        span = self.values[path]
        start, end = span.start, span.end
        if span.style == '"' and "\\" in self.text[start:end]:
            value = self.data
            for step in path:
                value = value[step]
            return str(value), start + 1
        if span.style in ("'", '"'):
            start, end = start + 1, end - 1
        elif span.style in ("|", ">"):
            start = self.text.index("\n", start) + 1 if "\n" in self.text[start:end] else end
        return self.text[start:end], start


def read_source(path: Path) -> Source:
    """Read a YAML file. Raises RecipeError where it is missing, too large, not text or not YAML."""
    name = str(path)
    try:
        # Looked at before it is opened: a pipe or a device may keep a reader waiting for ever.
        mode = path.stat().st_mode
        if not stat.S_ISREG(mode) and not stat.S_ISDIR(mode):
            raise RecipeError(f"'{name}' is not a file with text in it", hint="name a recipe file")
        with path.open("rb") as file:
            raw = file.read(MAX_BYTES + 1)
    except (FileNotFoundError, ValueError):  # ValueError: a name with a null character
        raise RecipeError(
            f"there is no file '{name}'", hint="check the name, or make a recipe with 'genex new NAME'"
        ) from None
    except IsADirectoryError:
        raise RecipeError(
            f"'{name}' is a folder, not a file", hint="name the recipe inside it"
        ) from None
    except OSError as error:
        raise RecipeError(f"'{name}' cannot be read: {error.strerror}") from None
    if len(raw) > MAX_BYTES:
        raise RecipeError(
            f"the file is larger than {MAX_BYTES // 1024} kB",
            hint="a recipe is a short text file; is this the right one?",
            place=Place(name),
        )
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        raise RecipeError(
            "the file is not UTF-8 text", hint="save it as UTF-8", place=Place(name, line)
        ) from None
    return parse_source(text, name)


def parse_source(text: str, file: str) -> Source:
    """Parse YAML text. Raises RecipeError with line and column."""
    from ruamel.yaml import YAML
    from ruamel.yaml.error import MarkedYAMLError, YAMLError

    try:
        return _Builder(text, file, YAML(typ="safe", pure=True)).build()
    except MarkedYAMLError as error:
        problem = error.problem or error.context or "it is not YAML"
        mark = error.problem_mark or error.context_mark
        place = Place(file, mark.line + 1, mark.column + 1) if mark else Place(file)
        known = f"{error.context or ''} {problem}"
        hint = next((hint for part, hint in _HINTS if part in known), "compare with 'genex new NAME'")
        raise RecipeError(f"this cannot be read as YAML: {problem}", hint=hint, place=place) from None
    except YAMLError as error:
        position = getattr(error, "position", None)
        line = text[:position].count("\n") + 1 if isinstance(position, int) else None
        raise RecipeError(
            "the file holds a character that text may not contain",
            hint="save it as plain UTF-8 text",
            place=Place(file, line),
        ) from None


class _Builder:
    """Plain data from parser events, with a place for everything."""

    def __init__(self, text: str, file: str, yaml: Any) -> None:
        self.text, self.file = text, file
        self.events = yaml.parse(text)
        self.resolver = yaml.resolver
        self.values: dict[KeyPath, Span] = {}
        self.keys: dict[KeyPath, Span] = {}

    def build(self) -> Source:
        data: Any = None
        documents = 0
        for event in self.events:
            kind = type(event).__name__
            if kind == "DocumentStartEvent":
                documents += 1
                if documents > 1:
                    raise self._refuse("a second document begins here", "keep one recipe a file", event)
            elif kind not in ("StreamStartEvent", "StreamEndEvent", "DocumentEndEvent"):
                data = self._value(event, ())
        return Source(self.file, self.text, data, self.values, self.keys)

    def _value(self, event: Any, path: KeyPath) -> Any:
        kind = type(event).__name__
        if kind == "AliasEvent" or event.anchor is not None:
            raise self._refuse(
                "anchors and aliases (& and *) are not used in recipes",
                "write the value out, or put it into quotes if it is text",
                event,
            )
        if event.ctag is not None and not str(event.ctag) == "None":
            raise self._refuse("tags (!) are not used in recipes", "put the text into quotes", event)
        if len(path) > MAX_DEPTH:
            raise self._refuse("the nesting is too deep", "a recipe needs three levels at most", event)
        if len(self.values) > MAX_VALUES:
            raise self._refuse("the file holds too many values", "split it into several recipes", event)
        start = event.start_mark.index
        self.values[path] = Span(start, event.end_mark.index, getattr(event, "style", None))
        if kind == "ScalarEvent":
            return self._scalar(event)
        return self._list(path) if kind == "SequenceStartEvent" else self._mapping(path)

    def _list(self, path: KeyPath) -> list[Any]:
        items: list[Any] = []
        while type(event := next(self.events)).__name__ != "SequenceEndEvent":
            items.append(self._value(event, (*path, len(items))))
        return items

    def _mapping(self, path: KeyPath) -> dict[str, Any]:
        found: dict[str, Any] = {}
        while type(event := next(self.events)).__name__ != "MappingEndEvent":
            if type(event).__name__ != "ScalarEvent" or event.anchor is not None:
                raise self._refuse("a field name must be a plain word", "write 'name: value'", event)
            key = str(event.value)
            if key in found:
                raise self._refuse(f"'{key}' is written twice", "keep one of the two", event)
            self.keys[*path, key] = Span(event.start_mark.index, event.end_mark.index)
            found[key] = self._value(next(self.events), (*path, key))
        return found

    def _scalar(self, event: Any) -> Any:
        from ruamel.yaml.nodes import ScalarNode

        try:
            # JSON writes an emoji as two escapes, which belong together.
            text = str(event.value).encode("utf-16", "surrogatepass").decode("utf-16")
        except UnicodeDecodeError:
            raise self._refuse(
                "an escape stands for no character", "write the sign itself", event
            ) from None
        if not event.implicit[0]:
            return text
        tag = str(self.resolver.resolve(ScalarNode, text, (True, False))).rpartition(":")[2]
        if tag == "null":
            return None
        if tag == "bool":
            return text.lower() in ("true", "yes", "on")
        try:
            if tag == "int":
                return int(
                    text.replace("_", ""), 0 if text.lower().lstrip("+-")[:2] in ("0x", "0o") else 10
                )
            if tag == "float":
                plain = text.replace("_", "").lower().replace(".inf", "inf").replace(".nan", "nan")
                return float(plain)
        except ValueError:
            return text
        return text

    def _refuse(self, message: str, hint: str, event: Any) -> RecipeError:
        return RecipeError(message, hint=hint, place=self._place(event))

    def _place(self, event: Any) -> Place:
        return Place(self.file, event.start_mark.line + 1, event.start_mark.column + 1)
