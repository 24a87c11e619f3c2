"""How much a build will be: files, sound, disk and memory, told before anything is made.

What is far beyond a lesson is refused: see ``MOST_``.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from genex.compose import Composer
from genex.errors import RecipeError
from genex.lazy import lazy
from genex.publishing.amounts import OTHER_FILE_BYTES, PAGE_BYTES, Outlook, clock, size_text
from genex.publishing.contents_page import CONTENTS_PAGE
from genex.publishing.manifest import MANIFEST
from genex.publishing.series_files import CONTENTS, book_key, bound_name, has_page, page_name
from genex.publishing.units import LessonWork, Unit

if TYPE_CHECKING:
    from genex.publishing import series_book
else:
    series_book = lazy("genex.publishing.series_book")

MOST_MINUTES_A_SOUND = 60
MOST_HOURS = 24
MOST_GIGABYTES = 32


def outlook_of(unit: Unit, *, to_make_only: bool = False) -> Outlook:
    """How much a unit is, or what of it is still to be made. Composes nothing."""
    total = Outlook()
    for work in unit.lessons:
        amounts = work.facts.amounts
        numbers = work.numbers if to_make_only else range(len(amounts))
        total += sum((amounts[number] for number in numbers), Outlook())
    total += sum((Outlook(1, size_bytes=OTHER_FILE_BYTES) for _ in unit.folders), Outlook())
    if unit.series is not None:
        if has_page(unit.series):
            total += Outlook(1, size_bytes=PAGE_BYTES)
        if unit.series.fields.bound:
            total += Outlook(1, size_bytes=len(unit.lessons) * OTHER_FILE_BYTES)
        total += Outlook(4, size_bytes=total.size_bytes)  # the zip holds all of it once more
    return total


def require_within(units: Sequence[Unit]) -> Outlook:
    """How much all of it is. Raises RecipeError, at the recipe that leads beyond a limit."""
    total = Outlook()
    for unit in units:
        one = outlook_of(unit)
        total += one
        if one.longest_seconds > MOST_MINUTES_A_SOUND * 60:
            raise _beyond(
                unit,
                f"a sound would last {clock(one.longest_seconds)}",
                f"at most {MOST_MINUTES_A_SOUND} minutes each: fewer 'repeats' or 'passes', or parts",
            )
        if total.seconds > MOST_HOURS * 3600:
            raise _beyond(
                unit,
                f"that makes {clock(total.seconds)} of sound",
                f"at most {MOST_HOURS} hours in one build: fewer 'keys', 'tempos' or 'outputs', or "
                "recipes one after the other",
            )
        if total.size_bytes > MOST_GIGABYTES << 30:
            raise _beyond(
                unit,
                f"that makes {size_text(total.size_bytes)}",
                f"at most {MOST_GIGABYTES} GB in one build: another 'audio: {{format: flac}}', fewer "
                "'keys', 'tempos' or 'outputs'",
            )
    return total


def _beyond(unit: Unit, message: str, hint: str) -> RecipeError:
    names = ("repeats", "tempos", "keys", "audio", "outputs", "lessons", "matrix")
    source = unit.source.source
    found = next((name for name in names if (name,) in source.values), None)
    return RecipeError(message, hint=hint, place=source.place((found,) if found else ()))


def names_of(work: LessonWork, unit: Unit) -> Iterator[tuple[int, str]]:
    """Files of a lesson that are to be made: the number of the version, and the name.

    Composes each key once.
    """
    if work.to_make is None:
        return
    recipe = work.to_make.recipe
    composer = Composer(recipe)
    with unit.inputs.active():
        pieces = {str(recipe.versions[0].key): work.to_make.piece}
        for number, version in zip(work.numbers, recipe.versions, strict=True):
            key = str(version.key)
            if key not in pieces and not recipe.exercises:
                pieces[key] = composer.piece(version)
            writer = work.to_make.writer(version, pieces.get(key), composer, None, print)
            yield from ((number, file.name) for file in writer.outline())


def wanted_of(unit: Unit) -> dict[str, str | None]:
    """Paths below a unit's folder as they will be, with the digests of what is kept."""
    wanted: dict[str, str | None] = {MANIFEST: None}
    for work in unit.lessons:
        below = f"{work.below}/" if work.below else ""
        wanted[below + MANIFEST] = None
        for kept in work.kept.values():
            wanted |= {below + one.file.name: one.file.sha256 for one in kept}
        wanted |= {below + name: None for _, name in names_of(work, unit)}
    if unit.series is not None and unit.series.chords:
        with unit.inputs.active():
            kept_book = unit.kept_of(book_key(unit.series))
            if kept_book is None:
                wanted |= dict.fromkeys(series_book.book_names(unit.series))
            else:
                wanted |= {one.file.name: one.file.sha256 for one in kept_book}
    if unit.series is not None and unit.lessons:
        wanted |= {CONTENTS: None, CONTENTS_PAGE: None}
        if has_page(unit.series):
            wanted[page_name(unit.series)] = None
        if unit.series.fields.bound:
            wanted[bound_name(unit.series)] = None
    return wanted
