"""The tables of the documentation, made from the models of recipes and from tables of facts.

A page says where a table stands and of what it is::

    <!-- table: recipe.guide -->            all fields of a group
    <!-- table: recipe: title key tempo --> some of them, in this order
    <!-- list: tunings -->                  names, parted by commas
    …
    <!-- end -->

What stands between the marks is written over by ``python -m tests.test_docs``. Groups are named by
the way to them: ``recipe``, ``recipe.guide``, ``recipe.exercise.calls``, ``series.matrix``.
"""

from __future__ import annotations

import re
import textwrap
from collections.abc import Callable, Iterable, Iterator, Mapping
from types import UnionType
from typing import Annotated, Any, Literal, Union, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo
from pydantic_core import PydanticUndefined

from genex.band.groove_fields import GrooveFields
from genex.band.kit import BASSES, VOICES
from genex.band.playable_voicings import VOICING_STYLES
from genex.cli import app
from genex.docs import FOLDER, PAGES
from genex.exercises import Exercise, kinds
from genex.exercises.any_kind import asks_for_more
from genex.fretboard import SEQUENCES, TUNINGS
from genex.lines.drills import INTERVALS
from genex.lines.rhythm import NOTES_A_BAR
from genex.lines.rhythm_cells import RHYTHMS_OF_LEVELS
from genex.lines.vocabulary import COMPASS_SEMITONES, LEVELS
from genex.recipe.fields import RecipeFields
from genex.recipe.folder_defaults import INHERITED
from genex.recipe.series import SeriesFields
from genex.score.gm import INSTRUMENTS, KITS
from genex.text.field_kinds import AlsoWords, OneOf
from genex.theory import CYCLES, SCALES
from genex.theory.qualities import QUALITIES

ROOTS: Mapping[str, type[BaseModel]] = {
    "recipe": RecipeFields,
    "series": SeriesFields,
    "feel": GrooveFields,
}
"""Files that people write, and the model of each."""

LISTS: Mapping[str, Iterable[str]] = {
    "basses": BASSES,
    "cycles": CYCLES,
    "drum voices": VOICES,
    "inherited": INHERITED,
    "intervals": INTERVALS,
    "kits": KITS,
    "scales": SCALES,
    "sounds": INSTRUMENTS,
    "tunings": TUNINGS,
    "voicings": VOICING_STYLES,
}

_MARKED = re.compile(
    r"^<!-- (?P<what>table|list): (?P<name>[^:>]*?)(?:: (?P<fields>[^>]*?))? -->\n"
    r".*?^<!-- end -->$",
    re.MULTILINE | re.DOTALL,
)
_HEAD = ("field", "meaning", "what may be written", "if left away")
_NOUNS = {
    str: ("text", "list of texts"),
    int: ("whole number", "list of whole numbers"),
    float: ("number", "list of numbers"),
    Any: ("anything", "anything"),
}


def with_tables(page: str) -> str:
    """A page with all its tables and lists made anew. Raises KeyError for an unknown name."""

    def made(match: re.Match[str]) -> str:
        first = match[0].partition("\n")[0]
        body = (
            _list(match["name"]) if match["what"] == "list" else _table(match["name"], match["fields"])
        )
        return f"{first}\n\n{body}\n\n<!-- end -->"

    return _MARKED.sub(made, page)


def groups() -> dict[str, type[BaseModel]]:
    """Every group of fields by the way to it."""
    found: dict[str, type[BaseModel]] = {}
    for name, model in ROOTS.items():
        found |= _groups_below(name, model)
    return found


def exercise_kinds() -> Mapping[str, type[Exercise]]:
    """The model of each kind of exercise, in the order in which they are told."""
    return kinds()


def _groups_below(path: str, model: type[BaseModel]) -> dict[str, type[BaseModel]]:
    found = {path: model}
    for name, field in model.model_fields.items():
        if path == "recipe" and name == "exercise":
            found |= {f"{path}.{name}.{kind}": one for kind, one in exercise_kinds().items()}
            continue
        for one in _models_in(field.annotation):
            found |= _groups_below(f"{path}.{field.alias or name}", one)
    return found


def _models_in(annotation: Any) -> Iterator[type[BaseModel]]:
    """Every model that an annotation allows, in the order written."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    else:
        for part in get_args(annotation):
            yield from _models_in(part)


# Tables


def _table(name: str, fields: str | None) -> str:
    if name in _OTHER_TABLES:
        return _OTHER_TABLES[name]()
    model = groups()[name]
    written = {field.alias or name: field for name, field in model.model_fields.items()}
    names = fields.split() if fields else [name for name in written if name != "kind"]
    return _rows(_HEAD, (_row(name, written[name]) for name in names))


def _rows(head: Iterable[str], rows: Iterable[Iterable[str]]) -> str:
    head = tuple(head)
    lines = [head, ("---",) * len(head), *rows]
    return "\n".join(f"| {' | '.join(map(_cell, line))} |" for line in lines)


def _cell(text: str) -> str:
    """Text with the signs escaped that would end a cell, or begin a tag of HTML."""
    return re.sub(r"([|<])", r"\\\1", text)


def _row(name: str, field: FieldInfo) -> tuple[str, str, str, str]:
    written = _allowed(field.annotation, field.metadata)
    return f"`{name}`", field.description or "", written, _default(field)


def _default(field: FieldInfo) -> str:
    """What holds if a field is left away; nothing for groups, whose fields have defaults."""
    if field.is_required():
        return "(must be written)"
    default = field.get_default(call_default_factory=True, validated_data={})
    if default is PydanticUndefined or default in (None, "", (), []) or default == {}:
        return ""
    return "" if isinstance(default, BaseModel | Mapping) else f"`{as_yaml(default)}`"


def as_yaml(value: Any) -> str:
    """A plain value or a list as YAML writes it: ``true``, ``-14``, ``[below]``, ``every beat``."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, int | float):
        return _digits(value)
    if isinstance(value, list | tuple):
        return f"[{', '.join(map(as_yaml, value))}]"
    return str(value)


def _digits(number: float) -> str:
    return str(int(number)) if number == int(number) else f"{number:g}"


def _allowed(annotation: Any, metadata: Iterable[Any], *, plural: bool = False) -> str:
    """What may be written for a type, in words; ``plural`` within a list."""
    for item in metadata:
        if isinstance(item, OneOf):
            return _choice(item.words, plural=plural)
        if isinstance(item, AlsoWords):
            return f"{_allowed(item.kind, ())}, or {_choice(item.words, plural=False)}"
    origin, parts = get_origin(annotation), get_args(annotation)
    if origin is Annotated:
        return _allowed(parts[0], [*parts[1:], *metadata], plural=plural)
    if origin in (Union, UnionType):
        given = [part for part in parts if part is not type(None)]
        allowed = list(dict.fromkeys(_allowed(part, metadata) for part in given))
        return (", or " if any("," in one for one in allowed) else " or ").join(allowed)
    if origin is Literal:
        return _choice(parts, plural=plural)
    if annotation is bool:
        return "`true` or `false`"
    if origin in (list, tuple):
        if get_origin(parts[0]) is dict:
            return "list of groups of fields"
        return _allowed(parts[0], (), plural=True)
    if origin in (dict, Mapping):
        names = _allowed(parts[0], (), plural=True) if get_origin(parts[0]) is Literal else "names"
        return f"{names}, each with {_allowed(parts[1], ())}"
    if annotation is Exercise:
        known = exercise_kinds().items()
        alone = [kind for kind, model in known if not asks_for_more(model)]
        return f"{_choice(alone, plural=False)}, or fields of its own"
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return "fields of its own"
    return _NOUNS[annotation][plural] + _limits(metadata)


def _choice(words: Iterable[Any], *, plural: bool) -> str:
    shown = [f"`{as_yaml(word)}`" for word in words]
    if len(shown) == 1:
        return shown[0]
    return f"{'any of' if plural else 'one of'} {', '.join(shown)}"


def _limits(metadata: Iterable[Any]) -> str:
    """Limits as they are declared, in words with a comma before them."""
    found: dict[str, Any] = {}
    for item in metadata:
        for one in item.metadata if isinstance(item, FieldInfo) else (item,):
            for name in ("ge", "le", "max_length"):
                if getattr(one, name, None) is not None:
                    found[name] = getattr(one, name)
    if "max_length" in found:
        return f", at most {found['max_length']} characters"
    if "ge" in found and "le" in found:
        return f", {_digits(found['ge'])} to {_digits(found['le'])}"
    if "ge" in found:
        return f", {_digits(found['ge'])} or more"
    return f", at most {_digits(found['le'])}" if "le" in found else ""


def _list(name: str) -> str:
    words = ", ".join(LISTS[name])
    return textwrap.fill(f"{words}.", 100, break_long_words=False, break_on_hyphens=False)


def _kinds_table() -> str:
    """The kinds of exercise and what each one is."""
    rows = ((f"`{kind}`", _first_words(model)) for kind, model in exercise_kinds().items())
    return _rows(("kind", "what it is"), rows)


def _patterns_table() -> str:
    """The patterns of a sequence, and what each one plays."""
    return _rows(
        ("pattern", "what it plays"), ((f"`{row.name}`", row.about) for row in SEQUENCES.values())
    )


def _levels_table() -> str:
    """What each level of a line adds, and the numbers that it aims at."""
    rows = (
        (
            str(level),
            LEVELS[level],
            RHYTHMS_OF_LEVELS[level],
            f"{float(NOTES_A_BAR[level - 1]):.1f}",
            str(COMPASS_SEMITONES[level]),
        )
        for level in LEVELS
    )
    return _rows(("level", "tones", "rhythm", "notes a bar of 4/4", "semitones at most"), rows)


def _commands_table() -> str:
    """Every command of the command line, from its own declaration."""
    rows = []
    for command in app.registered_commands:
        assert command.callback is not None
        name = command.name or command.callback.__name__
        rows.append((f"`genex {name}`", _first_words(command.callback)))
    return _rows(("command", "what it does"), sorted(rows))


def _chords_table() -> str:
    """Every chord quality, spelled on C."""
    rows = (
        (
            f"`C{row.key}`",
            row.names[0],
            " ".join(map(str, row.degrees)),
            " ".join(f"`C{form}`" for form in row.written),
        )
        for row in QUALITIES.values()
    )
    return _rows(("symbol", "name", "degrees", "also written"), rows)


def _fields_table() -> str:
    """The pages that describe fields of a recipe, and which ones."""
    rows = []
    for name in PAGES:
        marks = _MARKED.finditer((FOLDER / f"{name}.md").read_text("utf-8"))
        fields = [
            mark["fields"].split() for mark in marks if mark["name"] == "recipe" and mark["fields"]
        ]
        if fields:
            rows.append(
                (f"[{name}]({name}.md)", ", ".join(f"`{field}`" for some in fields for field in some))
            )
    return _rows(("page", "fields"), rows)


def _first_words(thing: Any) -> str:
    """The first paragraph of a docstring in one line."""
    return " ".join((thing.__doc__ or "").partition("\n\n")[0].split())


_OTHER_TABLES: Mapping[str, Callable[[], str]] = {
    "chords": _chords_table,
    "commands": _commands_table,
    "fields": _fields_table,
    "kinds": _kinds_table,
    "levels": _levels_table,
    "patterns": _patterns_table,
}
