"""YAML text read with the line and column of every value.

The text is parsed by ruamel.yaml; this module turns its events into plain data and remembers
where each value stood, so that a message can point at it. Only what a recipe needs is let
through: one document, no anchors, aliases or tags, bounded size and depth. Recipes and groove
files are both read here.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Container, Iterable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from genex.errors import Place, RecipeError
from genex.hints import nearest
from genex.inputs import NotPlainFileError, read_file
from genex.lazy import lazy

if TYPE_CHECKING:
    from ruamel import yaml
else:
    yaml = lazy("ruamel.yaml")  # chords and shapes are answered without

MAX_BYTES = 262_144
MAX_DEPTH = 16
MAX_VALUES = 20_000

KeyPath = tuple[str | int, ...]
"""Keys and list indices from the top of the document down to a value."""

_QUOTES = "put the value into quotes"
_SAYINGS = (
    # what the parser says, what is wrong, what to write instead, whether the fault lies where the
    # parser began to read what it could not finish
    ("expected a comment or a line break", "a chart begins with a bar line on the line of its field",
     "leave the first | away, or write 'chords: |' and the chart on the lines below, indented", False),
    ("expected chomping or indentation", "a chart begins with a bar line on the line of its field",
     "write 'chords: |' and the chart, from |: on, on the lines below, indented", False),
    ("found a tab character", "a tab stands here", "indent and part with spaces", False),
    ("found character '\\t'", "a tab stands here", "indent and part with spaces", False),
    ("cannot start any token", "a value may not begin with this sign", _QUOTES, False),
    ("expected alphabetic or numeric character", "a value may not begin with this sign", _QUOTES, False),
    ("expected ',' or ']'", "the list that begins here is not closed", "close it with ]", True),
    ("expected ',' or '}'", "the braces that open here are not closed", "close them with }", True),
    ("while scanning a quoted scalar", "the quotes that open here are not closed",
     "close the quotes at the end of the text", True),
    ("expected <block end>", "this line is not indented like the lines above it",
     "fields of one level begin in the same column", False),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Span:
    """Where a value stands in the text: character offsets, and the style of a scalar."""

    start: int
    end: int
    style: str | None = None


@dataclass(frozen=True)
class Source:
    """A parsed file: ``data`` as plain Python values, and the places of all of them.

    ``origin`` is the place of all that was not written as it is, but made from something there;
    ``lent`` are the values that stand in another file, which ``filled_up`` took from there.
    """

    file: str
    text: str
    data: Any
    values: dict[KeyPath, Span]
    keys: dict[KeyPath, Span]
    origin: Place | None = None
    lent: Mapping[KeyPath, Source] = field(default_factory=dict)

    @cached_property
    def _line_starts(self) -> list[int]:
        return [0, *(match.end() for match in re.finditer(r"\r\n|\r|\n", self.text))]

    def place_at(self, offset: int) -> Place:
        """The place of a character offset."""
        if self.origin is not None:
            return self.origin
        line = bisect_right(self._line_starts, offset) - 1
        return Place(self.file, line + 1, offset - self._line_starts[line] + 1)

    def place(self, path: KeyPath, *, of_key: bool = False) -> Place:
        """The place of a value (or of its field name); of the nearest parent if it is not written."""
        if lender := self._lender(path):
            return lender.place(path, of_key=of_key)
        spans = self.keys if of_key else self.values
        while path and path not in spans:
            path, spans = path[:-1], self.values
        span = spans.get(path)
        return self.place_at(span.start) if span else Place(self.file, 1, 1)

    def place_inside(self, path: KeyPath, line: int, column: int) -> Place:
        """The place of a line and a column, both from 1, inside of a text."""
        if (lender := self._lender(path)) is not None:
            return lender.place_inside(path, line, column)
        if self.origin is not None or path not in self.values:
            return self.place(path)
        text, start = self.written(path)
        rows = text.splitlines(keepends=True)
        value = str(self.value(path)).splitlines()
        if line > min(len(rows), len(value)) or self.values[path].style == ">":
            return self.place(path)
        indent = len(rows[line - 1].rstrip("\r\n")) - len(value[line - 1])
        return self.place_at(start + sum(map(len, rows[: line - 1])) + max(0, indent) + column - 1)

    def _lender(self, path: KeyPath) -> Source | None:
        """The file that a value stands in, if it is another one."""
        starts = (path[:count] for count in range(1, len(path) + 1))
        return next((self.lent[start] for start in starts if start in self.lent), None)

    def says(self, path: KeyPath) -> bool:
        """Whether a value is written, here or in the file that it was taken from."""
        lender = self._lender(path)
        return lender.says(path) if lender else path in self.values

    def is_own(self, path: KeyPath) -> bool:
        """Whether a value is written here, and not taken from elsewhere."""
        return path in self.values and self._lender(path) is None

    def folder_of(self, path: KeyPath) -> Path:
        """The folder of the file that a value stands in: names of files are seen from there."""
        return Path(self.place(path).file).parent

    def below(self, path: KeyPath) -> Source:
        """What stands at a path, as a file of its own whose places are those of this one."""
        count = len(path)
        inside = {at[count:]: span for at, span in self.keys.items() if at[:count] == path != at}
        values = {at[count:]: span for at, span in self.values.items() if at[:count] == path}
        return replace(self, data=self.value(path), values=values, keys=inside, lent={})

    def filled_up(self, ground: Source, names: Iterable[str], groups: Container[str]) -> Source:
        """This file with the fields ``names`` of another one where it has none of its own.

        Of ``groups`` each field stands for itself: ``audio: {format: mp3}`` leaves the other's loudness.
        """
        if not isinstance(self.data, dict) or not isinstance(ground.data, dict):
            return self
        data, lent = dict(self.data), dict(self.lent)
        for name in names:
            if name not in ground.data:
                continue
            own, other = data.get(name), ground.data[name]
            if name not in data:
                data[name], lent[name,] = other, ground
            elif name in groups and isinstance(own, dict) and isinstance(other, dict):
                data[name] = {**other, **own}
                lent |= {(name, step): ground for step in other if step not in own}
        return replace(self, data=data, lent=lent)

    def value(self, path: KeyPath) -> Any:
        """The value at a path. Raises KeyError or IndexError where there is none."""
        value = self.data
        for step in path:
            value = value[step]
        return value

    def written_path(self, loc: KeyPath) -> KeyPath:
        """``loc``, a path in validated data, without the steps that are not written: the names of
        union members, the index of a value that stands for a list of one."""
        path: KeyPath = ()
        for step in loc:
            if (*path, step) in self.values:
                path = (*path, step)
        if loc and (*path, loc[-1]) in self.keys:
            path = (*path, loc[-1])
        return path

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
            return str(self.value(path)), start + 1
        if span.style in ("'", '"'):
            start, end = start + 1, end - 1
        elif span.style in ("|", ">"):
            start = self.text.index("\n", start) + 1 if "\n" in self.text[start:end] else end
        return self.text[start:end], start


def read_source(path: Path) -> Source:
    """Read a YAML file. Raises RecipeError where it is missing, too large, not text or not YAML."""
    name = str(path)
    try:
        raw = read_file(path, MAX_BYTES)
    except (FileNotFoundError, ValueError):  # ValueError: a name with a null character
        raise RecipeError(f"there is no file '{name}'", hint=_file_meant(path)) from None
    except IsADirectoryError:
        raise RecipeError(
            f"'{name}' is a folder, not a file", hint="name the recipe inside it"
        ) from None
    except NotPlainFileError as error:
        raise RecipeError(
            f"'{name}' is not a file with text in it: {error.strerror}", hint="name a recipe file"
        ) from None
    except OSError as error:
        raise RecipeError(f"'{name}' cannot be read: {error.strerror}") from None
    if len(raw) > MAX_BYTES:
        raise RecipeError(
            f"the file is larger than {MAX_BYTES // 1024} kB",
            hint="a recipe is a short text file; is this the right one?",
            place=Place(name, raw[:MAX_BYTES].count(b"\n") + 1),
        )
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = raw[: error.start].count(b"\n") + 1
        raise RecipeError(
            "the file is not UTF-8 text", hint="save it as UTF-8", place=Place(name, line)
        ) from None
    return parse_source(text, name)


def _file_meant(path: Path) -> str:
    """What to write instead of the name of a file that is not there."""
    try:
        beside = {found.name: found for found in path.parent.glob("*.y*ml")}
    except (OSError, ValueError):  # no such folder, or not the name of one
        beside = {}
    near = nearest(path.name, beside, cutoff=0.8) or nearest(f"{path.stem}.yaml", beside, cutoff=0.8)
    if near is not None:
        return f"did you mean '{beside[near]}'?"
    return "check the name, or make a recipe with 'genex new NAME'"


def parse_source(text: str, file: str) -> Source:
    """Parse YAML text. Raises RecipeError with line and column."""
    try:
        return _Builder(text, file, yaml.YAML(typ="safe", pure=True)).build()
    except yaml.error.MarkedYAMLError as error:
        raise _yaml_error(error, text, file) from None
    except yaml.error.YAMLError as error:
        position = getattr(error, "position", None)
        line = text[:position].count("\n") + 1 if isinstance(position, int) else None
        raise RecipeError(
            "the file holds a character that text may not contain",
            hint="save it as plain UTF-8 text",
            place=Place(file, line),
        ) from None


def _yaml_error(error: Any, text: str, file: str) -> RecipeError:
    """What the parser could not read, in words for someone who does not know it."""
    problem = error.problem or error.context or "it is not YAML"
    known = f"{error.context or ''} {problem}"
    mark, begun = error.problem_mark or error.context_mark, error.context_mark or error.problem_mark
    if "could not find expected ':'" in known and begun:
        return _no_field(text.splitlines(), begun.line, file)
    if "mapping values are not allowed" in known and mark:
        return _second_colon(text.splitlines(), mark.line, mark.column, file)
    if mark and mark.line and _is_tab(text.splitlines()[mark.line : mark.line + 1]):
        return RecipeError(
            "the strings stand farther left than the line of tab above them",
            hint="begin the tab with a line, such as its title, in the column of the strings",
            place=Place(file, mark.line + 1, mark.column + 1),
        )
    message, hint = f"this cannot be read: {problem}", "compare with 'genex new NAME'"
    for part, said, advice, where_begun in _SAYINGS:
        if part in known:
            message, hint, mark = said, advice, begun if where_begun else mark
            break
    place = Place(file, mark.line + 1, mark.column + 1) if mark else Place(file)
    return RecipeError(message, hint=hint, place=place)


def _is_tab(lines: list[str]) -> bool:
    """Whether a line is a string of a tab."""
    return any(re.match(r"\s*[A-Ga-g]?[b#]?\s*\|-", line) for line in lines)


def _no_field(lines: list[str], line: int, file: str) -> RecipeError:
    """A line that begins like a field and has no colon with a space behind it."""
    written = lines[line].strip() if line < len(lines) else ""
    column = len(lines[line]) - len(lines[line].lstrip()) + 1 if written else 1
    before = next((text.rstrip() for text in reversed(lines[:line]) if text.strip()), "")
    glued = re.match(r"(\w+):(\S.*)", written)
    if glued is not None:
        hint = f"put a space behind the colon: '{glued[1]}: {glued[2]}'"
    elif before.endswith(":") or re.search(r":\s*[|>][+-]?$", before) or written[:1].isupper():
        hint = "indent the lines of a chart; or write a colon and a space behind the field's name"
    else:
        first, _, rest = written.partition(" ")
        hint = f"every line needs a field, a colon and a space, then the value: '{first}: {rest or '…'}'"
    return RecipeError("this line has no colon behind a field's name", hint=hint,
                       place=Place(file, line + 1, column))  # fmt: skip


def _second_colon(lines: list[str], line: int, column: int, file: str) -> RecipeError:
    """A colon where none may stand: of a second field in a line, or of a line that is out of line."""
    written = lines[line] if line < len(lines) else ""
    name, value = written[:column], written[column + 1 :].strip()
    above = next((n for n in range(line - 1, -1, -1) if lines[n].strip()), None)
    if ":" not in name and above is not None:
        if re.search(r":(\s|$)", lines[above]) is None:
            return _no_field(lines, above, file)
        return RecipeError(
            "this line is indented deeper than the one above it",
            hint="fields of one level begin in the same column",
            place=Place(file, line + 1, len(written) - len(written.lstrip()) + 1),
        )
    field, _, text = written.partition(":")
    quoted = f"{text.strip()}".replace('"', "'")
    hint = f'put text that contains a colon into quotes: {field.strip()}: "{quoted}"'
    if not value or not text.strip():
        hint = "put text that contains a colon into quotes"
    return RecipeError("a second colon stands in this line", hint=hint,
                       place=Place(file, line + 1, column + 1))  # fmt: skip


class _Builder:
    """Plain data from parser events, with a place for everything."""

    def __init__(self, text: str, file: str, parser: Any) -> None:
        self.text, self.file = text, file
        self.events = parser.parse(text)
        self.resolver = parser.resolver
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
        try:
            # JSON writes an emoji as two escapes, which belong together.
            text = str(event.value).encode("utf-16", "surrogatepass").decode("utf-16")
        except UnicodeDecodeError:
            raise self._refuse(
                "an escape stands for no character", "write the sign itself", event
            ) from None
        if not event.implicit[0]:
            return text
        tag = str(self.resolver.resolve(yaml.nodes.ScalarNode, text, (True, False))).rpartition(":")[2]
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
