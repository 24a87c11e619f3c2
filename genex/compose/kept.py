"""What a process that stays keeps of the music between builds: nothing that it hears has changed.

Within ``Memory.active`` a recipe that differs from an earlier one only in fields that composing does
not hear finds its lines again, and at the same tempo its whole pieces, but for the mix. Files of a
recipe are read each time, and what they say is compared; an exercise that reads files by itself, or
whose code a package has, is composed each time.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field, fields
from typing import TYPE_CHECKING

from genex.errors import InputError
from genex.exact import Fraction
from genex.exercises import sources_of
from genex.lines.study_plan import StudyPlan
from genex.recipe import Recipe
from genex.theory import Key

if TYPE_CHECKING:
    from genex.compose.piece import Composition

UNHEARD = frozenset({
    "tempo", "tempos", "keys", "mix", "audio", "outputs", "handout", "diagrams", "letterhead", "aim",
    "remarks", "homework", "courtesy_accidentals",
})  # fmt: skip
"""Fields of a recipe by which its music is the same in a key and at a tempo, but for the mix."""
_OF_THE_BUILD = frozenset({"fields", "source", "slug", "versions", "usual_tempo", "outputs"})
_MOST_RECIPES, _MOST_PIECES = 4, 4


PieceName = tuple[Key, Fraction, Fraction, bool]
"""Key and tempo of a version, the tempo that those of sections are in proportion to, ending."""


@dataclass
class Kept:
    """Music of a recipe: plans by key and ending, pieces without their mix by name."""

    lines: dict[tuple[Key, bool], list[StudyPlan]] = field(default_factory=dict)
    pieces: dict[PieceName, Composition] = field(default_factory=dict)
    most_pieces: int = 0

    def piece(self, name: PieceName, make: Callable[[], Composition]) -> Composition:
        """A piece that is kept, or else is made now; of many the latest are kept."""
        found = self.pieces.pop(name, None) or make()
        self.pieces[name] = found
        while len(self.pieces) > self.most_pieces:
            del self.pieces[next(iter(self.pieces))]
        return found


class Memory:
    """The music of the latest recipes."""

    def __init__(self) -> None:
        self._known: list[tuple[object, Kept]] = []

    @contextmanager
    def active(self) -> Iterator[None]:
        """Have everything that is composed look here first."""
        token = _active.set(self)
        try:
            yield
        finally:
            _active.reset(token)

    def kept(self, heard: object) -> Kept:
        """What is kept of a recipe by what is heard of it; nothing yet of a new one."""
        for index, (known, kept) in enumerate(self._known):
            if known == heard:
                self._known.append(self._known.pop(index))
                return kept
        kept = Kept(most_pieces=_MOST_PIECES)
        self._known = [*self._known[1 - _MOST_RECIPES :], (heard, kept)]
        return kept


_active: ContextVar[Memory | None] = ContextVar("memory", default=None)


def kept_of(recipe: Recipe, read: Callable[[], object]) -> Kept:
    """What is kept of a recipe. ``read`` gives what the files say that composing reads for it; where
    that is at fault, composing will tell."""
    memory, exercise = _active.get(), recipe.fields.exercise
    if memory is None or (exercise is not None and (exercise.files() or sources_of(type(exercise)))):
        return Kept()
    try:
        files = read()
    except InputError:
        return Kept()
    written = {name: value for name, value in recipe.fields if name not in UNHEARD}
    parsed = [getattr(recipe, one.name) for one in fields(recipe) if one.name not in _OF_THE_BUILD]
    return memory.kept((recipe.source.file, written, parsed, files))
