"""How a note is played, as formats write it: one table of marks, and what each makes of a note."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace

from genex.readers.lines.typed_line import TypedNote, refuse
from genex.score import Articulation, Bend, Stroke

LOUDNESS: Mapping[str, int] = {
    "ppp": 40, "pp": 50, "p": 60, "mp": 70, "mf": 80, "f": 92, "ff": 104, "fff": 116,
}  # fmt: skip
"""MIDI velocities of the dynamics that ABC and MusicXML name, in even steps of loudness."""
ACCENT_VELOCITY = 14
GHOST_VELOCITY = 30


def _accent(one: TypedNote) -> TypedNote:
    velocity = min(127, one.note.velocity + ACCENT_VELOCITY)
    return _articulated(one, Articulation.ACCENT, velocity)


def _ghost(one: TypedNote) -> TypedNote:
    return _articulated(one, Articulation.GHOST, max(1, one.note.velocity - GHOST_VELOCITY))


def _bent(one: TypedNote, bend: Bend) -> TypedNote:
    return replace(one, note=replace(one.note, bend=bend))


def _articulated(one: TypedNote, how: Articulation, velocity: int) -> TypedNote:
    if one.note.articulation is not Articulation.NORMAL:
        raise refuse(
            f"a note is {one.note.articulation.value} or {how.value}, not both", "keep one", one.place
        )
    return replace(one, note=replace(one.note, articulation=how, velocity=velocity))


MARKS: Mapping[str, Callable[[TypedNote], TypedNote]] = {
    "accent": _accent,
    "staccato": lambda one: _articulated(one, Articulation.STACCATO, one.note.velocity),
    "dead": lambda one: _articulated(one, Articulation.DEAD, one.note.velocity),
    "ghost": _ghost,
    "slide": lambda one: replace(one, slide="any"),
    "slide-up": lambda one: replace(one, slide="up"),
    "slide-down": lambda one: replace(one, slide="down"),
    "hammer-on": lambda one: replace(one, legato="hammer-on"),
    "pull-off": lambda one: replace(one, legato="pull-off"),
    "slur": lambda one: replace(one, legato=one.legato or "slur"),
    "bend": lambda one: _bent(one, Bend(2)),
    "half-bend": lambda one: _bent(one, Bend(1)),
    "bend-release": lambda one: _bent(one, Bend(2, releases=True)),
    "half-bend-release": lambda one: _bent(one, Bend(1, releases=True)),
    "vibrato": lambda one: replace(one, note=replace(one.note, vibrato=True)),
    "let-ring": lambda one: replace(one, note=replace(one.note, rings=True)),
    "down": lambda one: replace(one, note=replace(one.note, stroke=Stroke.DOWN)),
    "up": lambda one: replace(one, note=replace(one.note, stroke=Stroke.UP)),
}
"""What may be written over a note, by its name."""

ABC_DECORATIONS: Mapping[str, str] = {
    **{name: name for name in MARKS},
    ">": "accent",
    "emphasis": "accent",
    "downbow": "down",
    "upbow": "up",
}
"""Decorations between exclamation marks [published: ABC standard v2.1, 4.14, and names of our own]."""
ABC_SIGNS: Mapping[str, str] = {".": "staccato", "L": "accent", "v": "down", "u": "up"}
"""Signs of one letter [published: ABC standard v2.1, 4.14]."""

XML_MARKS: Mapping[str, str] = {
    "accent": "accent",
    "staccato": "staccato",
    "scoop": "slide-up",
    "plop": "slide-down",
    "down-bow": "down",
    "up-bow": "up",
}
"""Elements inside ``articulations`` and ``technical`` [published: MusicXML 4.0]."""


def with_marks(one: TypedNote, names: Iterable[str]) -> TypedNote:
    """The note with its marks."""
    for name in names:
        one = MARKS[name](one)
    return one
